"""`fillmark trial nitrogen`: judge simulated standing tests with known truth, and count how often that was right."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Annotated

import typer

from fillmark.cli.trial_table import counted

if TYPE_CHECKING:
    from fillmark.engine.vacuum.pressure_hold import PressureHold
    from fillmark_sim.nitrogen import NitrogenCase

ROWS = ("tight", "leaking", "leaking, below the limit")
COLUMNS = ("tight", "leaking", "undecided")
LATE_S = 60.0
"""A top-up is noticed if the test counts from it on, or from a little before it ended."""


@dataclass(slots=True)
class Tally:
    """Counts over the standing tests of a trial."""

    table: Counter[tuple[str, str]] = field(default_factory=Counter)
    wrong: list[int] = field(default_factory=list)
    named: int = 0
    covered: int = 0
    topped: int = 0
    noticed: int = 0
    kept: list[float] = field(default_factory=list)

    @property
    def tests(self) -> int:
        """All tests judged."""
        return self.table.total()

    def add(self, number: int, case: NitrogenCase, found: PressureHold) -> None:
        """Count one test."""
        shows = case.leak_pa_s >= found.sure_limit_pa_s
        row = "tight" if case.leak_pa_s == 0.0 else "leaking" if shows else "leaking, below the limit"
        self.table[row, str(found.verdict)] += 1
        if (found.verdict == "tight" and shows) or (found.verdict == "leaking" and case.leak_pa_s == 0.0):
            self.wrong.append(number)
        q = found.q_pa_m3_s
        if found.verdict == "leaking" and case.leak_pa_s > 0.0 and q is not None:
            self.named += 1
            self.covered += abs(q.value - case.leak_pa_s * case.true_volume_m3) <= 2.0 * q.u
        share = found.duration_s / (case.ends_s - case.stands_from_s)
        if case.topped_up:
            self.topped += 1
            self.noticed += found.duration_s <= case.ends_s - case.stands_from_s + LATE_S
        else:
            self.kept.append(share)


def judge(case: NitrogenCase) -> PressureHold | None:
    """The product's own judgement over a case; None where it says that too little was seen."""
    from fillmark.engine.atmosphere import STANDARD_PA, Barometer
    from fillmark.engine.quantity import Quantity
    from fillmark.engine.stages.pressure_test import judged_from
    from fillmark.engine.vacuum.hold_types import HoldTooShortError
    from fillmark.engine.vacuum.series import series_of

    air = Barometer(STANDARD_PA, "measured")
    samples = series_of(case.samples).samples
    try:
        return judged_from(samples, air, Quantity(case.volume_m3, case.volume_u_m3))[0]
    except HoldTooShortError:
        return None


def run_tests(count: int, seed: int) -> Tally:
    """Judge `count` standing tests; the same seed gives the same table."""
    from fillmark_sim.nitrogen import sample_nitrogen

    tally = Tally()
    for number in range(seed * 100_000, seed * 100_000 + count):
        case = sample_nitrogen(number)
        found = judge(case)
        if found is not None:
            tally.add(number, case, found)
    return tally


def nitrogen(
    count: Annotated[int, typer.Option(min=1, help="How many standing tests.")] = 400,
    seed: Annotated[int, typer.Option(min=0, help="The same seed gives the same table.")] = 1,
) -> None:
    """Judge simulated pressure tests and print how often the verdict was right, undecided or wrong."""
    tally = run_tests(count, seed)
    for line in as_markdown(tally):
        typer.echo(line)
    if tally.tests < count:
        typer.echo(f"Too little was seen in {count - tally.tests} of {count}.")


def as_markdown(tally: Tally) -> Iterator[str]:
    """The table and the figures that count."""
    yield from counted("truth \\ verdict", ROWS, COLUMNS, lambda row, column: tally.table[row, column])
    yield ""
    numbers = f" (tests {', '.join(map(str, tally.wrong))})" if tally.wrong else ""
    yield f"Wrong: {len(tally.wrong)} of {tally.tests}, {len(tally.wrong) / max(tally.tests, 1):.1%}{numbers}."
    if tally.named:
        yield f"Q ± 2u covers the true leak in {tally.covered / tally.named:.0%} of {tally.named} leaks named."
    if tally.topped:
        yield f"Nitrogen let in a second time was noticed in {tally.noticed} of {tally.topped}."
    if tally.kept:
        short = sum(share < 0.9 for share in tally.kept)
        yield f"Of {len(tally.kept)} others, {short} lost more than a tenth of their time to noise or temperature."
