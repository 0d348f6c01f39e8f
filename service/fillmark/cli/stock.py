"""`fillmark stock`: what is left in which container, and a year by refrigerant, asked of a running service."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fillmark.cli.fail import NOT_REACHED, fail

if TYPE_CHECKING:
    import httpx

Plain = dict[str, Any]


def stock(
    service: Annotated[str, typer.Option(help="Address of the service.")] = "http://127.0.0.1:8000",
    year: Annotated[int, typer.Option(help="Sum up this year of UTC by refrigerant; needs --gwp.")] = 0,
    gwp: Annotated[str, typer.Option(help="Edition of the global warming potentials: AR4, EU-2024, AR5 or AR6.")] = "",
    out: Annotated[Path | None, typer.Option(help="With --year: write the rows as CSV to this file.")] = None,
) -> None:
    """Show what is left in each container across jobs, or sum up a year by refrigerant."""
    import httpx

    if out is not None and not year:
        fail("--out belongs to --year: name the year that is to be summed up")
    try:
        with httpx.Client(base_url=service, timeout=20.0, trust_env=False) as client:
            if not year:
                _print_containers(_asked(client, "/v1/containers").json())
            elif out is None:
                _print_year(_asked(client, f"/v1/stock/{year}", gwp).json())
            else:
                _write(out, _asked(client, f"/v1/stock/{year}.csv", gwp).content)
    except (httpx.InvalidURL, httpx.UnsupportedProtocol) as error:
        fail(f"--service {service!r} is no address ({error}); give one such as http://127.0.0.1:8000")
    except httpx.HTTPError as error:
        fail(f"no service at {service} ({error}); start one with: fillmark serve", NOT_REACHED)
    except (ValueError, KeyError, TypeError):
        fail(f"{service} answers otherwise than Fillmark; give the address of a service with --service", NOT_REACHED)


def _asked(client: httpx.Client, path: str, gwp: str = "") -> httpx.Response:
    answer = client.get(path, params={"gwp": gwp} if gwp else {})
    if not answer.is_success:
        problem = answer.json()
        fail(f"{problem['detail']}" + (f"; {problem['accepted']}" if "accepted" in problem else ""))
    return answer


def _print_containers(document: Plain) -> None:
    from rich.console import Console
    from rich.markup import escape
    from rich.table import Table

    console = Console()
    table = Table("container", "use", "refrigerant", "left", "± (k = 2, from jobs)", "in job")
    for row in document["containers"]:
        doubt = row["left_u_kg"]
        table.add_row(
            escape(row["id"]),
            row["use"],
            row["refrigerant"] or "not stated",
            f"{row['left_kg']:.3f} kg",
            "none stated" if doubt is None else f"{2e3 * doubt:.1f} g",
            row["in_job"] or "",
        )
    console.print(table)
    for row in document["containers"]:
        for doubt in row["doubts"]:
            console.print(f"[yellow]{escape(row['id'])}:[/] {escape(doubt)}")
    strangers = document["outside_stock"]
    if strangers:
        console.print(f"{len(strangers)} container(s) of jobs are not in the stock; their mass counts beside it")


def _print_year(document: Plain) -> None:
    from rich.console import Console
    from rich.table import Table

    table = Table(
        "refrigerant", "flow", "kg", "t CO2 equivalent", title=f"{document['year']}, {document['gwp_edition']}"
    )
    for row in document["rows"]:
        bound = "at most " if row["gwp_is_upper_bound"] else ""
        co2e = row["co2e_t"]
        shown = "not known" if co2e is None else f"{bound}{co2e:.3f}"
        table.add_row(row["refrigerant"], row["flow"].replace("_", " "), f"{row['mass_kg']:.3f}", shown)
    Console().print(table)


def _write(path: Path, table: bytes) -> None:
    try:
        path.write_bytes(table)
    except OSError as error:
        fail(f"{path}: {error.strerror}; choose another place with --out")
    typer.echo(f"{path}: {len(table.splitlines()) - 1} rows")
