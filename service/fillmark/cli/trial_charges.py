"""`fillmark trial charges`: charge simulated circuits in a closed loop and print how near the truth the masses were."""

from __future__ import annotations

import importlib.util
import os
import sys
from collections.abc import Iterable
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from fillmark.cli.fail import fail

if TYPE_CHECKING:
    from fillmark.cli.charge_run import Methods, Outcome

Task = tuple[str, int, float, str, bool]
"""Class, seed, step of the scale in kg, file of methods or nothing, and whether the hand method is tried too."""

SEEDS_APART = 1_000_000


def load_methods(path: str) -> Methods:
    """The mapping METHODS of a Python file; nothing for no file.

    Raises:
        OSError: the file cannot be read.
        AttributeError: it has no METHODS.
    """
    if not path:
        return {}
    name = f"fillmark_methods_{abs(hash(path))}"
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, path)
        if spec is None or spec.loader is None:
            raise OSError(f"{path} is no Python file")
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        sys.modules[name] = module
    methods: Methods = sys.modules[name].METHODS
    return methods


def run_task(task: Task) -> Outcome:
    """One charge, in whichever process."""
    from fillmark.cli.charge_run import run_charge

    disturbance, seed, step_kg, path, by_hand = task
    return run_charge(disturbance, seed, step_kg, load_methods(path), by_hand=by_hand)


def tasks(
    count: int, seed: int, step_kg: float, *, against: str = "", only: str = "", by_hand: bool = True
) -> list[Task]:
    """So many charges in turn over the classes; the same seed gives the same charges."""
    from fillmark_sim.disturbed import CLASSES

    names = [only] if only else list(CLASSES)
    return [
        (names[number % len(names)], seed * SEEDS_APART + number // len(names), step_kg, against, by_hand)
        for number in range(count)
    ]


def run_tasks(todo: list[Task], jobs: int) -> list[Outcome]:
    """All charges, in `jobs` processes, with a progress bar on a terminal."""
    if jobs == 1:
        return list(_with_progress(map(run_task, todo), len(todo)))
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        return list(_with_progress(pool.map(run_task, todo, chunksize=4), len(todo)))


def _with_progress(outcomes: Iterable[Outcome], total: int) -> Iterable[Outcome]:
    from rich.console import Console
    from rich.progress import track

    console = Console(stderr=True)
    return track(
        outcomes, "charging", total=total, console=console, transient=True, disable=not console.is_terminal
    )  # fmt: skip


def charges(
    count: Annotated[int, typer.Option(min=1, help="How many charges, in turn over the classes.")] = 400,
    seed: Annotated[int, typer.Option(min=0, help="The same seed gives the same table.")] = 1,
    step: Annotated[float, typer.Option(min=0.1, max=100.0, help="Step of the scale in grams: 1, 2, 5, 10.")] = 1.0,
    only: Annotated[str, typer.Option(help="One class of disturbance alone, by its name in the table.")] = "",
    against: Annotated[
        str, typer.Option(help="Python file whose METHODS are tried on the same readings beside Fillmark.")
    ] = "",
    picture: Annotated[
        Path | None,
        typer.Option(help="Draw Fillmark beside the hand method into this file, .svg or .png (extra: plots)."),
    ] = None,
    jobs: Annotated[int, typer.Option(min=0, help="Processes at once; 0 takes every core of this machine.")] = 0,
) -> None:
    """Charge simulated circuits in a closed loop and print how often the mass was right and how far it was off."""
    from fillmark.cli.charge_tally import as_markdown, methods_as_markdown, misses
    from fillmark_sim.disturbed import CLASSES

    if only and only not in CLASSES:
        fail(f"no class {only!r}; use one of {', '.join(CLASSES)}")
    path = str(Path(against).resolve()) if against else ""
    try:
        names = list(load_methods(path))
    except (OSError, AttributeError) as error:
        fail(f"{against}: {error}; give a Python file with a mapping METHODS")
    todo = tasks(count, seed, step * 1e-3, against=path, only=only)
    outcomes = run_tasks(todo, jobs or os.cpu_count() or 1)
    for line in as_markdown(outcomes):
        typer.echo(line)
    if names:
        typer.echo("")
        for line in methods_as_markdown(outcomes, names):
            typer.echo(line)
    typer.echo("")
    for line in misses(outcomes):
        typer.echo(line)
    if picture is not None:
        draw(outcomes, picture)


def draw(outcomes: list[Outcome], picture: Path) -> None:
    """Draw the picture, or say what is missing for it."""
    from fillmark.cli.charge_plot import plot
    from fillmark.wire.extras import MissingExtraError

    try:
        plot(outcomes, picture)
    except (MissingExtraError, OSError, ValueError) as error:
        fail(f"no picture: {error}")
