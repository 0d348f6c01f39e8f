"""`fillmark trial evacuation`: judge simulated pull-downs whose truth is known, and count how often that was right."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Annotated

import typer

from fillmark.cli.trial_table import counted

if TYPE_CHECKING:
    from fillmark.engine.vacuum.pump_types import PumpDown
    from fillmark_sim.vacuum import PullDownCase

ROWS = ("pump", "leak", "water", "oil", "falling")
COLUMNS = (
    "target reached", "wet", "outgassing", "leaking", "pump_limit", "hose_thin", "pump_small", "slower_than_declared",
    "left open", "still falling", "at rest",
)  # fmt: skip
NO_PART = 0.2
"""A cause that makes less of the pressure than this does not hold it up; naming it is wrong."""

NO_VAPOUR = 0.03
"""Vapour is said to fade, not to make most of it; saying so is wrong where there is less of it than this."""

OFF_BY = 2.0
SOON_S = 60.0
"""A time to the target is right within a factor of two, or a minute."""


@dataclass(slots=True)
class Tally:
    """Counts over the pull-downs of a trial. A pull-down with two causes counts in two columns."""

    table: Counter[tuple[str, str]] = field(default_factory=Counter)
    wrong: dict[int, list[str]] = field(default_factory=dict)
    named: Counter[bool] = field(default_factory=Counter)
    of: Counter[bool] = field(default_factory=Counter)
    missed: Counter[bool] = field(default_factory=Counter)
    times: int = 0
    right_times: int = 0
    count: int = 0

    def add(self, number: int, case: PullDownCase, found: PumpDown) -> None:
        """Count one pull-down."""
        self.count += 1
        declared = case.declared is not None
        for column in columns_of(case, found):
            self.table[case.truth, column] += 1
        if not reached(case, found):
            self.of[declared] += 1
            self.named[declared] += bool(found.causes)
            self.missed[declared] += bool(found.open_causes) and not found.causes and not stands_open(case, found)
        wrong = faults(case, found)
        if wrong:
            self.wrong[number] = wrong
        if found.to_target_s:
            self.times += 1
            self.right_times += close_enough(found.to_target_s, case.to_target_s)


def close_enough(said_s: float, true_s: float | None) -> bool:
    """Whether a time to the target is right within a factor of two, or a minute."""
    if true_s is None:
        return False
    return abs(said_s - true_s) <= SOON_S or true_s / OFF_BY <= said_s <= true_s * OFF_BY


def reached(case: PullDownCase, found: PumpDown) -> bool:
    """Whether the verdict is that the target is reached."""
    return case.target_pa is not None and found.pressure_pa <= case.target_pa


def columns_of(case: PullDownCase, found: PumpDown) -> tuple[str, ...]:
    """What was said, for the table."""
    if found.causes:
        return tuple(str(cause) for cause in found.causes)
    if reached(case, found):
        return ("target reached",)
    if found.open_causes:
        return ("left open",)
    return ("at rest",) if found.plateau_reached and not found.falling else ("still falling",)


def stands_open(case: PullDownCase, found: PumpDown) -> bool:
    """Whether the causes left open contain what is so."""
    parts = {"pump": "pump_limit", "leak": "leaking", "water": "wet", "oil": "outgassing"}
    if case.truth == "falling":
        return bool({"hose_thin", "pump_small"} & set(found.open_causes)) or not found.plateau_reached
    return parts[case.truth] in found.open_causes


def faults(case: PullDownCase, found: PumpDown) -> list[str]:
    """Everything that was claimed and is not so."""
    share: Mapping[str, float] = case.shares
    vapour = share["water"] + share["oil"]
    so = {
        "wet": share["water"] >= NO_PART,
        "outgassing": vapour >= NO_VAPOUR,
        "leaking": share["leak"] >= NO_PART,
        "pump_limit": share["pump"] >= NO_PART,
        "hose_thin": case.hose_m3_s <= 0.55 * case.pump_m3_s,
        "pump_small": case.drawn_m3_s >= 0.45 * case.pump_m3_s,
        "slower_than_declared": case.air_share <= 0.65,
    }
    wrong = [str(cause) for cause in found.causes if not so[str(cause)]]
    slack = 1.5 * case.gauge_resolution_pa
    if case.target_pa is not None:
        if reached(case, found) and case.true_pa > case.target_pa + slack:
            wrong.append("target reached")
        if found.target_in_reach is False and case.later_pa < case.target_pa - slack:
            wrong.append("target out of reach")
    return wrong


def judge(case: PullDownCase) -> PumpDown | None:
    """The product's own judgement over a case; None where it says that too little was seen."""
    from fillmark.engine.quantity import Quantity
    from fillmark.engine.setup import Hose
    from fillmark.engine.vacuum.gauge import Gauge
    from fillmark.engine.vacuum.pump_down import judge as judge_pull_down
    from fillmark.engine.vacuum.pump_types import PumpDownTooShortError, PumpSetup
    from fillmark.engine.vacuum.series import series_of

    plate = case.declared
    setup = PumpSetup(
        Gauge(case.gauge_resolution_pa, noise_share=case.gauge_noise_pa / case.gauge_resolution_pa),
        Quantity(case.volume_m3, case.volume_u_m3),
        case.coldest_k,
        case.target_pa,
        None if plate is None else plate.speed_m3_s,
        None if plate is None else plate.ultimate_pa,
        None if plate is None else Hose(plate.hose_m, plate.bore_m),
    )
    series = series_of((time_s, pressure_pa, None) for time_s, pressure_pa in case.samples)
    try:
        return judge_pull_down(series.samples, setup)
    except PumpDownTooShortError:
        return None


def run_pull_downs(count: int, seed: int) -> Tally:
    """Judge `count` pull-downs; the same seed gives the same table."""
    from fillmark_sim.vacuum import sample_pull_down

    tally = Tally()
    for number in range(seed * 100_000, seed * 100_000 + count):
        case = sample_pull_down(number)
        found = judge(case)
        if found is not None:
            tally.add(number, case, found)
    return tally


def evacuation(
    count: Annotated[int, typer.Option(min=1, help="How many pull-downs.")] = 400,
    seed: Annotated[int, typer.Option(min=0, help="The same seed gives the same table.")] = 1,
) -> None:
    """Judge simulated pull-downs and print how often a cause was named, left open or wrong."""
    tally = run_pull_downs(count, seed)
    for line in as_markdown(tally):
        typer.echo(line)
    if tally.count < count:
        typer.echo(f"Too little was seen in {count - tally.count} of {count}.")


def as_markdown(tally: Tally) -> Iterator[str]:
    """The table and the figures that count."""
    yield from counted(
        "what makes most of the pressure \\ said", ROWS, COLUMNS, lambda row, column: tally.table[row, column]
    )
    yield ""
    what = "; ".join(f"{number}: {', '.join(wrong)}" for number, wrong in tally.wrong.items())
    yield f"Wrong: {len(tally.wrong)} of {tally.count}, {len(tally.wrong) / tally.count:.1%}{what and f' ({what})'}."
    for declared, word in ((True, "declared"), (False, "not declared")):
        of = max(tally.of[declared], 1)
        yield (
            f"Pump and hose {word}: of {tally.of[declared]} that are not at their target a cause is named in "
            f"{tally.named[declared]} ({tally.named[declared] / of:.0%}); the rest miss the truth in "
            f"{tally.missed[declared]}."
        )
    if tally.times:
        yield f"Time to the target: {tally.right_times} of {tally.times} within a factor of two or a minute."
