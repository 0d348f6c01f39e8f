"""Which charges a campaign makes, and making them in as many processes as there are cores."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from typing import NamedTuple

from rich.console import Console
from rich.progress import track

from fillmark_sim.campaign.charge import Outcome, run_charge
from fillmark_sim.campaign.method import load_methods
from fillmark_sim.campaign.weigher import load_weigher

SEEDS_APART = 1_000_000
AT_A_TIME = 4
"""So many charges go to a process together: enough that handing them over costs nothing."""


class Task(NamedTuple):
    """One charge to be made: class, seed, step of the scale in kg, name of the weigher, file of methods or nothing."""

    disturbance: str
    seed: int
    step_kg: float
    weigher: str
    methods: str = ""
    by_hand: bool = True

    def run(self) -> Outcome:
        """Make it, in whichever process."""
        weigher, makers = load_weigher(self.weigher)(), load_methods(self.methods)
        return run_charge(self.disturbance, self.seed, self.step_kg, weigher, makers, by_hand=self.by_hand)


def tasks(
    names: Sequence[str], count: int, seed: int, step_kg: float, *, weigher: str, methods: str = ""
) -> list[Task]:
    """So many charges in turn over the classes; the same seed gives the same charges, whatever the count."""
    return [
        Task(names[number % len(names)], seed * SEEDS_APART + number // len(names), step_kg, weigher, methods)
        for number in range(count)
    ]


def run_tasks(todo: Sequence[Task], jobs: int) -> list[Outcome]:
    """All charges, in `jobs` processes, with a progress bar on a terminal."""
    if jobs == 1:
        return list(_with_progress(map(Task.run, todo), len(todo)))
    with ProcessPoolExecutor(jobs, mp_context=get_context("spawn")) as pool:
        return list(_with_progress(pool.map(Task.run, todo, chunksize=AT_A_TIME), len(todo)))


def _with_progress(outcomes: Iterable[Outcome], total: int) -> Iterable[Outcome]:
    console = Console(stderr=True)
    return track(
        outcomes, "charging", total=total, console=console, transient=True, disable=not console.is_terminal
    )  # fmt: skip
