"""`fillmark watch`: the live charge in a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from fillmark.cli.fail import NOT_REACHED, fail

if TYPE_CHECKING:
    import httpx
    from rich.console import RenderableType

View = dict[str, Any]
BAR_CELLS = 80
STRANGER = "give the address of a Fillmark service with --service"


def watch(
    service: Annotated[str, typer.Option(help="Address of the service.")] = "http://127.0.0.1:8000",
    bay: Annotated[str, typer.Option(help="Bay to watch; the first with an open job when absent.")] = "",
    job: Annotated[str, typer.Option(help="A certain job.")] = "",
    once: Annotated[bool, typer.Option(help="Print the present state and stop.")] = False,
) -> None:
    """Watch a job on the whole terminal. Ctrl-C stops watching and nothing else."""
    import httpx

    # The service is on this machine or in this workshop: a proxy meant for the web must not come between.
    timeout = httpx.Timeout(5.0, read=20.0)
    try:
        with httpx.Client(base_url=service, timeout=timeout, trust_env=False) as client:
            if once:
                _print_once(client, bay, job)
            else:
                from fillmark.cli.watch_follow import Follower, show

                show(Follower(client, bay, job))
    except KeyboardInterrupt:
        raise typer.Exit from None
    except (httpx.InvalidURL, httpx.UnsupportedProtocol) as error:
        fail(f"--service {service!r} is no address ({error}); give one such as http://127.0.0.1:8000")


def _print_once(client: httpx.Client, bay: str, job: str) -> None:
    import httpx
    from rich.console import Console

    from fillmark.cli.watch_follow import open_job

    try:
        job = job or open_job(client, bay)
        if not job:
            typer.echo("no job is open")
            return
        answer = client.get(f"/v1/jobs/{job}")
        answer.raise_for_status()
        shown = panel(answer.json())
    except httpx.UnsupportedProtocol:
        raise
    except httpx.HTTPStatusError as error:
        if not job:
            fail(f"{client.base_url} answers {error.response.status_code}: {STRANGER}", NOT_REACHED)
        fail(f"the service answered {error.response.status_code} for job {job!r}; leave --job out for the open one")
    except httpx.HTTPError as error:
        fail(f"no service at {client.base_url} ({error}); start one with: fillmark serve", NOT_REACHED)
    except (ValueError, KeyError, TypeError):
        fail(f"{client.base_url} answers otherwise than Fillmark: {STRANGER}", NOT_REACHED)
    Console().print(shown)


def panel(view: View) -> RenderableType:
    """One job as a panel: the step's own result or the mass and its certainty, then what to do, then the rest."""
    from rich.console import Group
    from rich.markup import escape
    from rich.panel import Panel

    first = _mass(view) if view["step"] in {None, "charging"} else _step(view)
    lines: list[RenderableType] = [*first, *_points(view), *_hints(view), *_details(view)]
    title = f"{view['job']} · {view['refrigerant']} · {view['step'] or 'no step'}"
    return Panel(Group(*lines), title=escape(title), width=96)


def _mass(view: View) -> list[RenderableType]:
    from rich.text import Text

    from fillmark.cli.watch_screen import bar

    live = view["mass_live"]
    age = "no reading yet" if view["mass_at"] is None else f"{max(view['now'] - view['mass_at'], 0.0):.1f} s old"
    head = Text()
    head.append(f"{view['charged_kg'] * 1e3:7.1f} g", "bold" if live else "dim strike")
    head.append(f"  ± {2 * view['charged_u_kg'] * 1e3:.1f} g (k = 2)   {age}", "" if live else "dim")
    return [head, bar(view, BAR_CELLS), _rates(view)]


def _step(view: View) -> list[RenderableType]:
    """What the step in progress has shown so far."""
    from rich.text import Text

    report = view["steps"][view["step"]]["report"] or {}
    verdict = str(report.get("verdict") or "no verdict yet").replace("_", " ")
    lines: list[RenderableType] = [Text(verdict, "bold")]
    lines += [Text(f"measured: {line}") for line in report.get("measured", ())]
    lines += [Text(f"next: {line}") for line in report.get("next", ())]
    return lines


def _hints(view: View) -> list[RenderableType]:
    from rich.text import Text

    return [Text(f"hint: {line}", "italic") for line in view["hints"]]


def _rates(view: View) -> RenderableType:
    from rich.text import Text

    flow = "unknown" if view["flow_kg_s"] is None else f"{view['flow_kg_s'] * 1e3:.1f} g/s"
    aim = "" if view["aim_in_s"] is None else f"   aim in {view['aim_in_s']:.0f} s"
    hose = "unknown" if view["hose_kg"] is None else f"{view['hose_kg'] * 1e3:.1f} g"
    return Text(f"flow {flow}{aim}   drawn {view['dispensed_kg'] * 1e3:.1f} g   hose {hose}")


def _points(view: View) -> list[RenderableType]:
    from rich.text import Text

    styles = {"critical": "bold white on red", "warning": "black on yellow", "notice": "cyan"}
    shown = []
    for point in view["active"]:
        active = point["state"].endswith(" active")
        text = Text(f"{point['severity'].upper()}  " if active else "gone, not acknowledged  ")
        text.append(point["text"])
        text.stylize(styles[point["severity"]] if active else "dim")
        shown.append(text)
    return list(shown)


def _details(view: View) -> list[RenderableType]:
    from rich.text import Text

    from fillmark.cli.watch_screen import value

    readings = "   ".join(
        f"{channel} {value(reading)}{'' if reading['live'] else ' (stale)'}"
        for channel, reading in view["readings"].items()
        if reading["unit"] in {"Pa", "Cel"}
    )
    containers = "   ".join(
        f"{row['id']}: drawn {row['drawn_kg'] * 1e3:.0f} g, left "
        + ("unknown" if row["left_kg"] is None else f"{row['left_kg'] * 1e3:.0f} g")
        for row in view["containers"]
    )
    return [Text(line, "dim") for line in (containers, readings) if line]
