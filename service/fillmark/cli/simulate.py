"""`fillmark simulate`: record a stream of the simulated bay, with a technician who obeys what Fillmark shows."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fillmark.cli.fail import fail

if TYPE_CHECKING:
    from fillmark_sim.radio import Pack

ALL = "all"


def simulate(
    scenario: Annotated[str, typer.Argument(help="Name of a scenario, or all. Without a name: list them.")] = "",
    seed: Annotated[int, typer.Option(help="Decides all scatter; the same seed gives the same stream.")] = 7,
    out: Annotated[Path, typer.Option(help="Folder for NAME.senml.jsonl and NAME.truth.json.")] = Path(),
    by_hand: Annotated[bool, typer.Option(help="Nobody looks at Fillmark: close by the true mass.")] = False,
) -> None:
    """Simulate a charge or a visit and record it, with the truth beside it."""
    from fillmark_sim import scenarios
    from fillmark_sim.stream import write_stream

    if not scenario:
        for name in scenarios.names():
            typer.echo(f"{name:28} {scenarios.get(name).title}")
        return
    try:
        chosen = [scenarios.get(name) for name in (scenarios.names() if scenario == ALL else (scenario,))]
    except scenarios.UnknownScenarioError as error:
        fail(str(error))
    from rich.console import Console
    from rich.progress import track

    console = Console(stderr=True)
    for one in track(chosen, "simulating", console=console, transient=True, disable=not console.is_terminal):
        try:
            truth = write_stream(out / one.name, one, seed, None if by_hand else looking_at_fillmark())
        except OSError as error:
            fail(f"{out}: {error.strerror}; choose another folder with --out")
        typer.echo(f"{one.name}: {truth.outcome} -> {out / one.name}.senml.jsonl")


def looking_at_fillmark() -> Callable[[Pack], Iterable[str]]:
    """A listener for the simulated technician: the stop points that a service would show him after each pack."""
    from fillmark.intake.replay import Replay

    run = Replay()

    def look(pack: Pack) -> Iterable[str]:
        run.take(pack.records, max(run.now_s, pack.arrival_s))
        return run.active()

    return look
