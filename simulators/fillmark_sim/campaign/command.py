"""`python -m fillmark_sim campaign`: its options, and what it prints."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from fillmark.wire.extras import MissingExtraError
from fillmark_sim.campaign.charge import Outcome
from fillmark_sim.campaign.conditions import EVERY_CLASS, TABLES
from fillmark_sim.campaign.method import load_methods
from fillmark_sim.campaign.picture import draw
from fillmark_sim.campaign.tally import as_markdown, methods_as_markdown, misses
from fillmark_sim.campaign.tasks import run_tasks, tasks
from fillmark_sim.campaign.weigher import UnknownWeigherError, load_weigher

ABOUT = "charge simulated circuits in a closed loop; how often the mass was right and how far it was off"
BAD_INPUT = 2


def add_options(parser: argparse.ArgumentParser) -> None:
    """Declare the options of the command."""
    option = parser.add_argument
    option(
        "--count", type=_number(int, 1), default=400, help="how many charges, in turn over the classes (%(default)s)"
    )
    option("--seed", type=_number(int, 0), default=1, help="the same seed gives the same table (%(default)s)")
    option(
        "--step", type=_number(float, 0.1), default=1.0, help="step of the scale in grams: 1, 2, 5, 10 (%(default)s)"
    )
    option("--classes", choices=TABLES, default="disturbed", help="table of classes (%(default)s)")
    option("--only", metavar="CLASS", choices=EVERY_CLASS, help="one class alone: " + ", ".join(EVERY_CLASS))
    option("--weigher", default="Fillmark", metavar="NAME", help="what is under trial (%(default)s)")
    option("--against", type=Path, metavar="FILE", help="Python file whose METHODS are tried on the same readings")
    option("--picture", type=Path, metavar="FILE", help="draw it beside the hand method, .svg or .png (extra: plots)")
    option("--jobs", type=_number(int, 0), default=0, help="processes at once; 0 takes every core (%(default)s)")


def _number(kind: Callable[[str], float], least: float) -> Callable[[str], float]:
    """A reader of numbers from `least` up."""

    def read(text: str) -> float:
        number = kind(text)
        if number < least:
            raise argparse.ArgumentTypeError(f"{text} is less than {least:g}")
        return number

    read.__name__ = kind.__name__
    return read


def run(chosen: argparse.Namespace) -> int:
    """Make the charges and print the tables. Returns the exit status: 2, with one line on stderr, for bad input."""
    methods = str(chosen.against.resolve()) if chosen.against else ""
    try:
        load_weigher(chosen.weigher)
        names = list(load_methods(methods))
    except UnknownWeigherError as error:
        return _refused(str(error))
    except (OSError, AttributeError) as error:
        return _refused(f"{chosen.against}: {error}; give a Python file with a mapping METHODS")
    classes = [chosen.only] if chosen.only else list(TABLES[chosen.classes])
    todo = tasks(classes, chosen.count, chosen.seed, chosen.step * 1e-3, weigher=chosen.weigher, methods=methods)
    outcomes = run_tasks(todo, chosen.jobs or os.cpu_count() or 1)
    for line in report(outcomes, chosen.weigher, names):
        sys.stdout.write(line + "\n")
    if chosen.picture is None:
        return 0
    try:
        draw(outcomes, chosen.weigher, chosen.picture)
    except (MissingExtraError, OSError, ValueError) as error:
        return _refused(f"no picture: {error}")
    return 0


def report(outcomes: Sequence[Outcome], weigher: str, names: Sequence[str]) -> Iterator[str]:
    """The lines to be printed: the table, the methods beside the weigher, and the seeds that are worth a look."""
    yield from as_markdown(outcomes)
    if names:
        yield ""
        yield from methods_as_markdown(outcomes, weigher, names)
    yield ""
    yield from misses(outcomes)


def _refused(why: str) -> int:
    sys.stderr.write(" ".join(why.split()) + "\n")
    return BAD_INPUT
