"""The full screen of `fillmark watch`: what to do, the number, the window, the rest. It says the same as the page.

Pure: a screen is made of a state and of how long ago things were heard.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rich.console import Group
from rich.layout import Layout
from rich.markup import escape
from rich.panel import Panel
from rich.table import Table
from rich.text import Text

from fillmark.cli.watch_digits import large

if TYPE_CHECKING:
    from rich.console import RenderableType

View = dict[str, Any]
STALE_AFTER_S = 3.0
"""As in the engine: a scale that is silent for so long is not live."""
SOON_S = 15.0
NARROW = 100
STYLES = {"critical": "bold white on red", "warning": "bold black on yellow", "notice": "bold white on blue"}
WORDS = {"critical": "⯃ ACT NOW", "warning": "▲ BEFORE GOING ON", "notice": "● KNOW"}
BARS = "▁▂▃▄▅▆▇█"


@dataclass(frozen=True, slots=True)
class Heard:
    """How old things are. `state_s`: since the state came; `silent_s`: no connection for so long, None: connected."""

    state_s: float = 0.0
    silent_s: float | None = None


def screen(view: View, heard: Heard, course: Sequence[float] = (), width: int = 120) -> Layout:
    """One job on a whole terminal. `course`: what the vacuum gauge read in the step in progress, Pa."""
    whole = Layout()
    whole.split_column(
        Layout(_head(view, heard), size=1),
        Layout(_call(view, heard), size=5),
        Layout(_middle(view, heard, course, width), size=12),
        Layout(_lower(view, heard, narrow=width < NARROW)),
    )
    return whole


def mass_age_s(view: View, heard: Heard) -> float | None:
    """Age of the mass, s; None: no reading yet."""
    return None if view["mass_at"] is None else max(view["now"] - view["mass_at"], 0.0) + heard.state_s


def mass_live(view: View, heard: Heard) -> bool:
    """Whether the mass may be shown as the present one. The service's word, and time since then."""
    age = mass_age_s(view, heard)
    return bool(view["mass_live"]) and heard.silent_s is None and age is not None and age <= STALE_AFTER_S


def weighs(view: View) -> bool:
    """Whether the mass is what matters now."""
    return view["step"] in {None, "charging"}


def between(view: View) -> str | None:
    """Between two steps the one whose report is shown; None where the mass is what matters, as on the page."""
    done = [(record["began"], step) for step, record in view["steps"].items() if not record["skipped"]]
    last = max(done)[1] if done else "charging"
    if view["step"] is not None or last == "charging":
        return None
    if view["closed_at"] is not None:
        charging = view["steps"].get("charging")
        return None if charging and not charging["skipped"] else last
    feeds = any(row["mounted"] and row["use"] != "recovery" for row in view["containers"])
    return None if feeds and last != "performance_test" else last


def _head(view: View, heard: Heard) -> Text:
    step = "closed" if view["closed_at"] is not None else named(view["step"] or "no step")
    line = Text(f" FILLMARK  {view['job']} · {view['refrigerant']} · {step}   ", "bold")
    if heard.silent_s is None:
        return line.append("● live", "green")
    return line.append(f"✖ no connection for {heard.silent_s:.0f} s. Nothing here is live.", "bold white on red")


def _call(view: View, heard: Heard) -> Panel:
    active = [point for point in view["active"] if point["state"].endswith(" active")]
    open_ = view["closed_at"] is None
    critical = next((point for point in active if point["severity"] == "critical"), None)
    pressing = critical or (active[0] if active and heard.silent_s is None else None)
    if open_ and pressing is not None:
        style = STYLES[pressing["severity"]]
        return Panel(Text(pressing["text"], style), title=WORDS[pressing["severity"]], style=style)
    if open_ and heard.silent_s is not None:
        blind = "Shut the valve, or read the scale itself." if weighs(view) else "Read the gauges themselves."
        return Panel(Text(f"What is shown is old. {blind}", "bold"), title="✖ BLIND", style="bold white on black")
    return Panel(Text(_quiet(view, heard), "bold"), title="○")


def _quiet(view: View, heard: Heard) -> str:
    """What to say where nothing presses: the first of these that holds."""
    if view["closed_at"] is not None:
        return "Job closed."
    if not weighs(view):
        report = view["steps"][view["step"]]["report"] or {}
        return next(iter(report.get("next", ())), f"{named(view['step'])} in progress.")
    said = (
        (between(view) is not None, "No step in progress: begin the next one, or close the job."),
        (view["mounted"] is None, "No container on the scale."),
        (not mass_live(view, heard), "The scale is silent. The mass shown is old."),
        (view["call_in_s"] is not None, _countdown(view, heard)),
        ((view["flow_kg_s"] or 0.0) < 0.5e-3, "Nothing flows."),
    )
    return next((text for holds, text in said if holds), "It flows, but no valve is said to be open.")


def _countdown(view: View, heard: Heard) -> str:
    left = max((view["call_in_s"] or 0.0) - heard.state_s, 0.0)
    return f"Hand on the valve: {left:.0f} s" if left <= SOON_S else f"Close in {left:.0f} s at the present flow."


def _middle(view: View, heard: Heard, course: Sequence[float], width: int) -> RenderableType:
    if not weighs(view):
        return _step(view, heard, course, width)
    if (last := between(view)) is not None:
        report = view["steps"][last]["report"] or {}
        verdict = str(report.get("verdict") or "no verdict").replace("_", " ")
        measured = [Text(f"· {line}") for line in report.get("measured", ())]
        return Group(Text(f"{named(last)}: done"), Text(verdict, "bold underline"), *measured)
    live = mass_live(view, heard) or view["closed_at"] is not None
    known = view["mass_at"] is not None
    digits = large(f"{view['charged_kg'] * 1e3:.0f}" if known else "-")
    style = "bold" if live else "dim strike"
    age = mass_age_s(view, heard)
    said = "no reading yet" if age is None else f"{age:.1f} s old" if live else f"SILENT SINCE {age:.0f} s"
    beside = ["", "", f"± {2 * view['charged_u_kg'] * 1e3:.1f} g (k = 2)" if known else "± unknown", "charged", said]
    rows = Table.grid(padding=(0, 3))
    for row, more in zip(digits, beside, strict=True):
        rows.add_row(Text(row, style), Text(more, "" if live else "bold reverse"))
    return Group(rows, Text(), bar(view, width - 4), _rates(view, live=live))


def bar(view: View, cells: int) -> Text:
    """Window, mass and aim to scale."""
    least, most, aim = view["charge_min_kg"], view["charge_max_kg"], view["aim_kg"]
    scale = cells / (max(most, view["charged_kg"]) * 1.08)
    text = Text()
    for cell in range(cells):
        kg = (cell + 0.5) / scale
        inside, window = kg <= view["charged_kg"], least <= kg <= most
        sign = "┃" if abs(kg - aim) < 0.5 / scale else "█" if inside else "▒" if window else "·"
        text.append(sign, "red" if inside and kg > most else "green" if window else "")
    return text.append(f"\nwindow {least * 1e3:.0f} to {most * 1e3:.0f} g, aim {aim * 1e3:.0f} g")


def _rates(view: View, *, live: bool) -> Text:
    flow = "unknown" if view["flow_kg_s"] is None else f"{view['flow_kg_s'] * 1e3:.1f} g/s"
    lands = view["lands_if_shut_kg"]
    parts = [f"flow {flow}", f"still to come {(view['aim_kg'] - view['charged_kg']) * 1e3:.0f} g"]
    if lands is not None:
        parts.append(f"shut now, it lands at {lands * 1e3:.0f} g")
    style = "" if live else "dim strike"
    return Text.assemble(("   ".join(parts), style), (f"\n{view['reaction']['text']}", "dim"))


def _step(view: View, heard: Heard, course: Sequence[float], width: int) -> RenderableType:
    report = view["steps"][view["step"]]["report"] or {}
    verdict = str(report.get("verdict") or "no verdict yet").replace("_", " ")
    measured = [Text(f"· {line}") for line in report.get("measured", ())][: 3 if course else 6]
    digits, unit, live = _number(view, heard, report.get("numbers", {}))
    rows = Table.grid(padding=(0, 3))
    number = Group(*(Text(row, "bold" if live else "dim strike") for row in large(digits)))
    rows.add_row(number, Group(Text(), Text(), Text(), Text(unit), Text("" if live else "not live", "bold reverse")))
    lines: list[RenderableType] = [rows, Text(verdict, "bold underline"), *measured]
    if course:
        target = report.get("numbers", {}).get("target_pa")
        aim = "" if target is None else f"target {target:.0f} Pa, "
        lines += [Text(spark(course, width - 4)), Text(f"{aim}logarithmic, the whole step", "dim")]
    return Group(*lines)


NUMBERS: dict[str, tuple[tuple[str, ...], str, float]] = {
    "pressure_test": (("low/pressure", "high/pressure"), "bar", 1e-5),
    "evacuation": (("vacuum/pressure",), "Pa as the gauge reads", 1.0),
    "vacuum_hold": (("vacuum/pressure",), "Pa as the gauge reads", 1.0),
    "performance_test": (("vent/temperature",), "°C at the vent", 1.0),
}
"""The channel whose number stands large in a step: the first that speaks, its unit, and what makes it of SI."""


def _number(view: View, heard: Heard, numbers: View) -> tuple[str, str, bool]:
    """Digits, unit, and whether they are live."""
    if view["step"] == "recovery":
        recovered = numbers.get("recovered_kg")
        if recovered is None or view["mass_at"] is None:
            return "-", "g recovered: not weighed yet", False
        return f"{recovered * 1e3:.0f}", "g recovered", mass_live(view, heard)
    channels, unit, factor = NUMBERS[view["step"]]
    reading = next((view["readings"][one] for one in channels if one in view["readings"]), None)
    if reading is None:
        return "-", f"{unit}: not heard yet", False
    shown = reading["value"] * factor
    text = f"{shown:.0f}" if abs(shown) >= 100.0 else f"{shown:.1f}"
    return text, unit, bool(reading["live"]) and heard.silent_s is None


def spark(course: Sequence[float], cells: int) -> str:
    """A row of blocks, logarithmic, at most `cells` wide: the whole course, thinned out."""
    step = max(1, math.ceil(len(course) / cells))
    logs = [math.log10(max(value, 0.1)) for value in course[::step]]
    low, high = min(logs), max(*logs, min(logs) + 0.6)
    return "".join(BARS[round((one - low) / (high - low) * (len(BARS) - 1))] for one in logs)


def _lower(view: View, heard: Heard, *, narrow: bool) -> Layout:
    lower, readings = Layout(), Layout(Panel(_readings(view, heard), title="readings"))
    points = Layout(Panel(_points(view), title="stop points"))
    containers = Layout(Panel(_containers(view), title="containers"))
    if narrow:
        lower.split_row(readings, points)
        return lower
    lower.split_row(readings, containers, points)
    return lower


def _readings(view: View, heard: Heard) -> Table:
    rows = Table.grid(padding=(0, 2))
    for channel, reading in view["readings"].items():
        if reading["unit"] not in {"Pa", "Cel"}:
            continue
        live = reading["live"] and heard.silent_s is None
        age = max(view["now"] - reading["at"], 0.0) + heard.state_s
        style = "" if live else "dim strike"
        rows.add_row(Text(channel), Text(value(reading), style, justify="right"), Text(f"{age:.0f} s", "dim"))
    for name, key in (("low side, dew", "low_dew_k"), ("high side, bubble", "high_bubble_k")):
        if (kelvin := view["saturation"].get(key)) is not None:
            rows.add_row(Text(name), Text(f"{kelvin - 273.15:.1f} °C", justify="right"), Text())
    return rows


def _containers(view: View) -> Table:
    rows = Table.grid(padding=(0, 2))
    for row in view["containers"]:
        left = "unknown" if row["left_kg"] is None else f"{row['left_kg'] * 1e3:.0f} g left"
        here = "on the scale" if row["mounted"] else ""
        rows.add_row(Text(row["id"], "bold"), Text(f"{row['drawn_kg'] * 1e3:.0f} g drawn"), Text(left), Text(here))
    if view["plan"] is not None:
        return _with_plan(rows, view["plan"]["text"])
    return rows


def _with_plan(rows: Table, plan: str) -> Table:
    both = Table.grid()
    both.add_row(rows)
    both.add_row(Text(f"plan: {plan}", "italic"))
    return both


def _points(view: View) -> Group:
    lines: list[RenderableType] = []
    for point in view["active"]:
        holds = point["state"].endswith(" active")
        text = Text(f"{WORDS[point['severity']]}  " if holds else "over, not acknowledged  ")
        text.append(point["text"])
        text.stylize(STYLES[point["severity"]] if holds else "dim")
        lines.append(text)
    lines += [Text(f"hint: {line}", "italic") for line in view["hints"]]
    return Group(*(lines or [Text("none", "dim")]))


def value(reading: View) -> str:
    """A reading as people say it; a vacuum in pascals."""
    if reading["unit"] == "Pa":
        pascal = reading["value"]
        return f"{pascal:.0f} Pa" if abs(pascal) < 2000.0 else f"{pascal / 1e5:.2f} bar"
    return f"{reading['value']:.1f} °C"


def named(step: str) -> str:
    """A step's name for people, safe for markup."""
    return escape(step.replace("_", " ").capitalize())
