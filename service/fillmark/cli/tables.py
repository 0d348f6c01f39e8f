"""Jobs as tables in the terminal."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from rich.console import Console
from rich.markup import escape
from rich.table import Table

from fillmark.engine.job import Job
from fillmark.engine.view import summary

STYLES = {"critical": "bold red", "warning": "yellow", "notice": "cyan"}


def grams(value: object) -> str:
    """A mass for people; unknown stays unknown."""
    return f"{value * 1e3:.1f} g" if isinstance(value, (int, float)) else "unknown"


def print_job(job: Job) -> None:
    """Print what a replay found of one job."""
    view = summary(job)
    console = Console()
    chance = view["probability_in_window"]
    console.print(
        f"[bold]{escape(job.id)}[/] {view['refrigerant']}, window {grams(view['charge_min_kg'])} to "
        f"{grams(view['charge_max_kg'])}, aim {grams(view['aim_kg'])}"
    )
    masses = Table("in the circuit", "± (k = 2)", "drawn", "in the hose", "lost", "in the window")
    doubled = view["charged_u_kg"]
    masses.add_row(
        f"[bold]{grams(view['charged_kg'])}[/]",
        grams(doubled * 2.0 if isinstance(doubled, float) else None),
        grams(view["dispensed_kg"]),
        grams(view["hose_kg"]),
        grams(view["lost_kg"]),
        f"{chance:.0%}" if isinstance(chance, float) else "unknown",
    )
    console.print(masses)
    containers = Table("container", "drawn", "left")
    rows = view["containers"]
    for row in rows if isinstance(rows, list) else []:
        containers.add_row(escape(row["id"]), grams(row["drawn_kg"]), grams(row["left_kg"]))
    console.print(containers)
    points = Table("at (UTC)", "stop point", "text")
    raised = view["stop_points"]
    for row in raised if isinstance(raised, list) else []:
        at = datetime.fromtimestamp(row["at"], UTC).strftime("%H:%M:%S.%f")[:-5]
        points.add_row(at, f"[{STYLES[row['severity']]}]{row['id']}[/]", escape(row["text"]))
    console.print(points)
    steps = view["steps"]
    for name, record in steps.items() if isinstance(steps, dict) else ():
        _print_step(console, name, record)


SAYS = {"measured": "measured", "proves": "proves", "does_not_prove": "does not prove", "next": "next"}


def _print_step(console: Console, name: str, record: dict[str, Any]) -> None:
    """Print one step: its verdict, and every sentence under what it is."""
    report = record["report"]
    if record["skipped"]:
        verdict = "skipped"
    elif report is None:
        verdict = "no report"
    else:
        verdict = str(report["verdict"] or "no verdict").replace("_", " ")
    unfinished = ", in progress" if record["ended"] is None else ""
    console.print(f"[bold]{escape(name.replace('_', ' '))}[/]{unfinished}: {escape(verdict)}")
    if record["reason"]:
        console.print(f"  reason: {escape(record['reason'])}")
    for member, word in SAYS.items():
        for line in report[member] if report else ():
            console.print(f"  {word}: {escape(line)}")
