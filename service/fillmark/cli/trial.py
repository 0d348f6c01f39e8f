"""`fillmark trial holds`: judge simulated vacuum holds whose truth is known, and count how often that was right."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise
from typing import TYPE_CHECKING, Annotated

import typer

from fillmark.cli.trial_table import counted

if TYPE_CHECKING:
    from fillmark.engine.vacuum.hold_types import Hold
    from fillmark_sim.vacuum import HoldCase

ROWS = ("tight", "leaking", "leaking, below the limit", "wet", "both", "both, leak below the limit")
COLUMNS = (
    "tight", "leaking", "wet_or_outgassing", "wet_leak_not_excluded", "leaking_and_wet",
    "undecided: leak_or_moisture", "undecided: not_sensitive", "undecided: below_scale",
    "undecided: at_water_saturation",
)  # fmt: skip
GAUGES_PA = (1.0, 10.0, 100.0, 3386.389)
RATIOS = (0.5, 0.7, 0.85, 1.0, 1.15, 1.4, 1.8)
"""Leaks tried for the detection limit, as multiples of the limit that the same hold reports."""


@dataclass(slots=True)
class Tally:
    """Counts over the holds of a trial."""

    table: Counter[tuple[str, str]] = field(default_factory=Counter)
    wrong: list[int] = field(default_factory=list)
    missed: int = 0
    named: int = 0
    covered: int = 0
    bounded: int = 0
    bounds: int = 0
    fisher: list[float] = field(default_factory=list)

    @property
    def holds(self) -> int:
        """All holds judged."""
        return sum(self.table.values())

    @property
    def decided(self) -> int:
        """Holds with a verdict that is not undecided."""
        return sum(n for (_, column), n in self.table.items() if not column.startswith("undecided"))

    def add(self, number: int, case: HoldCase, hold: Hold) -> None:
        """Count one hold."""
        column = f"undecided: {hold.doubt}" if hold.doubt else str(hold.verdict)
        self.table[row_of(case, hold), column] += 1
        if is_wrong(case, hold):
            self.wrong.append(number)
        self.missed += is_wrong(case, hold) or misses(case, hold)
        q = hold.q_pa_m3_s
        if q is not None and hold.verdict in {"leaking", "leaking_and_wet"}:
            self.named += 1
            self.covered += abs(q.value - case.leak_q_pa_m3_s) <= 2.0 * q.u
        if hold.verdict in {"wet_or_outgassing", "wet_leak_not_excluded"}:
            self.bounds += 1
            self.bounded += _leak_pa_s(case) <= hold.leak_bound_pa_s
        if hold.doubt == "leak_or_moisture":
            self.fisher.append(hold.expected_need)


def judge(case: HoldCase) -> Hold:
    """The product's own verdict over a case."""
    from fillmark.engine.quantity import Quantity
    from fillmark.engine.vacuum.gauge import Gauge
    from fillmark.engine.vacuum.hold import judge as judge_hold
    from fillmark.engine.vacuum.hold_types import HoldSetup
    from fillmark.engine.vacuum.series import series_of

    gauge = Gauge(case.gauge_resolution_pa, noise_share=case.gauge_noise_pa / case.gauge_resolution_pa)
    volume = Quantity(case.volume_m3, case.volume_u_m3)
    return judge_hold(series_of(case.samples).samples, HoldSetup(gauge, volume, case.coldest_k))


def misses(case: HoldCase, hold: Hold) -> bool:
    """Whether a verdict is silent on a cause that this hold would have shown, had it been alone."""
    leak, vapour = leak_shows(case, hold), case.volatile_rise_pa >= hold.sure_limit_pa_s * hold.duration_s
    match hold.verdict:
        case "tight":
            return leak or vapour
        case "leaking":
            return vapour
        case "wet_or_outgassing":
            return leak
        case _:
            return False


def _leak_pa_s(case: HoldCase) -> float:
    return case.leak_q_pa_m3_s / case.true_volume_m3


def leak_shows(case: HoldCase, hold: Hold) -> bool:
    """Whether the leak is one that this hold claims to detect 95 times in 100."""
    return _leak_pa_s(case) >= hold.sure_limit_pa_s


def row_of(case: HoldCase, hold: Hold) -> str:
    """The truth, and whether its leak is large enough to show at all."""
    if case.truth in {"tight", "wet"} or leak_shows(case, hold):
        return case.truth
    return "leaking, below the limit" if case.truth == "leaking" else "both, leak below the limit"


def is_wrong(case: HoldCase, hold: Hold) -> bool:
    """Whether the verdict names what is not so, or denies what it promised to see.

    TIGHT denies a leak above the hold's own sure limit, and vapour that rises as much. LEAKING names a leak and leaves
    open whether there is vapour too. WET names vapour and denies a leak of the wanted size. WET_LEAK_OPEN names vapour.
    """
    from fillmark.engine.vacuum.hold_types import WANTED_RISE_PA_S

    match hold.verdict:
        case "tight":
            return leak_shows(case, hold) or case.volatile_rise_pa > hold.sure_limit_pa_s * hold.duration_s
        case "leaking":
            return case.truth not in {"leaking", "both"}
        case "wet_or_outgassing":
            return case.truth not in {"wet", "both"} or _leak_pa_s(case) >= WANTED_RISE_PA_S
        case "wet_leak_not_excluded":
            return case.truth not in {"wet", "both"}
        case "leaking_and_wet":
            return case.truth != "both"
        case _:
            return False


def run_holds(count: int, seed: int) -> Tally:
    """Judge `count` holds; the same seed gives the same table."""
    from fillmark_sim.vacuum import sample_hold

    tally = Tally()
    for number in range(seed * 100_000, seed * 100_000 + count):
        case = sample_hold(number)
        tally.add(number, case, judge(case))
    return tally


def half_detected(gauge_pa: float, count: int, seed: int) -> float | None:
    """The leak that half of the holds detect, as a multiple of the limit that they report. None: not bracketed."""
    from fillmark_sim.vacuum import sample_hold

    seen: Counter[float] = Counter()
    for number in range(seed * 100_000, seed * 100_000 + count):
        still = sample_hold(number, truth="tight", gauge_resolution_pa=gauge_pa)
        limit_q = judge(still).detection_limit_pa_s * still.true_volume_m3
        for ratio in RATIOS:
            leaking = sample_hold(number, truth="leaking", leak_q_pa_m3_s=ratio * limit_q, gauge_resolution_pa=gauge_pa)
            seen[ratio] += judge(leaking).detected
    shares = [(ratio, seen[ratio] / count) for ratio in RATIOS]
    for (low, below), (high, above) in pairwise(shares):
        if below < 0.5 <= above:
            return low + (high - low) * (0.5 - below) / (above - below)
    return None


def holds(
    count: Annotated[int, typer.Option(min=1, help="How many holds.")] = 400,
    seed: Annotated[int, typer.Option(min=0, help="The same seed gives the same table.")] = 1,
    limits: Annotated[int, typer.Option(min=0, help="Holds for each gauge's detection limit; 0 leaves it out.")] = 0,
) -> None:
    """Judge simulated vacuum holds and print how often the verdict was right, undecided or wrong."""
    for line in as_markdown(run_holds(count, seed)):
        typer.echo(line)
    for gauge_pa in GAUGES_PA if limits else ():
        ratio = half_detected(gauge_pa, limits, seed)
        said = "not bracketed" if ratio is None else f"{ratio:.2f} of the reported limit"
        typer.echo(f"Gauge of {gauge_pa:g} Pa: half of the holds detect a leak of {said} ({limits} holds a point).")


def as_markdown(tally: Tally) -> Iterator[str]:
    """The table and the figures that count."""
    from fillmark.engine.vacuum.hold import NEED_SIGMA

    yield from counted("truth \\ verdict", ROWS, COLUMNS, lambda row, column: tally.table[row, column])
    yield ""
    numbers = f" (holds {', '.join(map(str, tally.wrong))})" if tally.wrong else ""
    yield f"Wrong: {len(tally.wrong)} of {tally.holds} holds, {len(tally.wrong) / tally.holds:.1%}{numbers}."
    yield f"Decided: {tally.decided} of {tally.holds}; wrong among them {len(tally.wrong) / max(tally.decided, 1):.1%}."
    yield (
        f"Wrong, or silent on a cause that this hold would have shown alone: {tally.missed}, "
        f"{tally.missed / max(tally.decided, 1):.1%} of those decided."
    )
    if tally.named:
        yield f"Q ± 2u covers the true leak in {tally.covered / tally.named:.0%} of {tally.named} leaks named."
    if tally.bounds:
        yield f"The bound on a leak beside vapour (95 %) holds in {tally.bounded / tally.bounds:.0%} of {tally.bounds}."
    if tally.fisher:
        clear = sum(need >= NEED_SIGMA + 2.0 for need in tally.fisher)
        yield (
            f"Undecided between leak and moisture: {len(tally.fisher)}; of these the Fisher information of the data "
            f"would have told apart by {NEED_SIGMA + 2.0:.1f} sigma or more: {clear}."
        )
