"""`fillmark trial performance`: try the diagnosis on simulated faults and print the confusion table."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Annotated

import typer

from fillmark.cli.trial_table import counted

if TYPE_CHECKING:
    from fillmark.engine.performance.report import PerformanceReport
    from fillmark_sim.faults import FaultCase

VISIBLE_SHIFT = 2.0
"""A fault that moves no reading by two standard uncertainties of its probe is masked: nothing can see it."""

NO_FAULT = ("healthy", "control cycling normally")
BANDS = (("mild", 0.25, 0.5), ("moderate", 0.5, 0.75), ("severe", 0.75, 1.01))
SERIOUS = 0.5
"""A milder fault than this is not excluded where nothing shows, and the verdict says so."""

OUTCOMES = (
    "correct", "undecided", "slight, nothing shows", "undecided, truth not named", "not enough data", "confident wrong",
)  # fmt: skip


@dataclass(slots=True)
class Tally:
    """Counts of a trial: verdicts by truth, outcomes by severity, and which faults nothing could see."""

    table: dict[str, Counter[str]] = field(default_factory=dict)
    outcomes: dict[str, Counter[str]] = field(default_factory=dict)
    masked: dict[str, Counter[str]] = field(default_factory=dict)
    names: Counter[int] = field(default_factory=Counter)

    def add(self, case: FaultCase, verdict: str, outcome: str, named: int) -> None:
        """Count one case, with the number of conditions that its verdict names."""
        if verdict == "undecided":
            self.names[named] += 1
        self.table.setdefault(case.truth, Counter())[verdict] += 1
        self.outcomes.setdefault(band_of(case), Counter())[outcome] += 1
        if band_of(case) == "masked":
            self.masked.setdefault(case.truth, Counter())[severity_of(case)] += 1

    def share(self, *wanted: str, but: str = "") -> float:
        """Part of all cases with one of these outcomes, without one band."""
        counts = [counter for band, counter in self.outcomes.items() if band != but]
        total = sum(sum(counter.values()) for counter in counts)
        return sum(counter[one] for counter in counts for one in wanted) / max(total, 1)


def judge(case: FaultCase) -> PerformanceReport:
    """The product's own report over the readings of a case."""
    from fillmark.engine.performance.conditions import STATIONARY, VEHICLE, Layout
    from fillmark.engine.performance.report import performance_report
    from fillmark.engine.performance.static import static_check
    from fillmark.engine.performance.values import Probes
    from fillmark.engine.performance.watch import Watch
    from fillmark.refrigerants import facade

    refrigerant, probes = facade.get(case.refrigerant), Probes()
    layout = Layout(case.layout)
    loose = STATIONARY if layout in STATIONARY else VEHICLE
    watch = Watch()
    for time_s, channel, value in in_order(case):
        watch = watch.take(time_s, channel, value)
    static = None
    if case.static is not None:
        pressure, cold_c = case.static
        static = static_check(refrigerant, pressure, cold_c + 273.15, probes)
    layouts = (layout,) if case.layout_known else loose
    return performance_report(refrigerant, watch, probes=probes, static=static, layouts=layouts)


def in_order(case: FaultCase) -> Iterator[tuple[float, str, float]]:
    """The readings in order of time, in the units of the engine."""
    for time_s, channel, value in sorted(
        (time_s, channel, value) for channel, series in case.readings.items() for time_s, value in series
    ):
        if channel.endswith("temperature"):
            yield time_s, channel, value + 273.15
        elif channel.endswith("humidity"):
            yield time_s, channel, min(max(value / 100.0, 0.0), 1.0)
        else:
            yield time_s, channel, value


def outcome(case: FaultCase, report: PerformanceReport) -> tuple[str, str]:
    """What was said, for the table, and how that is to be counted."""
    diagnosis = report.diagnosis
    named = {"healthy" if one in NO_FAULT else str(one) for one in diagnosis.candidates}
    if diagnosis.verdict == "nothing shows":
        if case.truth == "healthy":
            return "nothing shows", "correct"
        slight = case.severity < SERIOUS or case.shift < VISIBLE_SHIFT
        return "nothing shows", "slight, nothing shows" if slight else "confident wrong"
    if diagnosis.verdict == "clear":
        said = next(iter(named))
        return said, "correct" if said == case.truth else "confident wrong"
    if diagnosis.verdict == "not enough data":
        return "not enough data", "not enough data"
    return "undecided", "undecided" if case.truth in named else "undecided, truth not named"


def band_of(case: FaultCase) -> str:
    """The row of a case in the table of severities."""
    if case.truth == "healthy":
        return "healthy"
    if case.shift < VISIBLE_SHIFT:
        return "masked"
    return severity_of(case)


def severity_of(case: FaultCase) -> str:
    """Mild, moderate or severe."""
    return next(name for name, low, high in BANDS if low <= case.severity < high)


def run_trial(count: int, seed: int) -> Tally:
    """Judge `count` cases; the same seed gives the same table."""
    from fillmark_sim import faults

    tally = Tally()
    for number in range(count):
        case = faults.sample(seed * 1_000_003 + number)
        report = judge(case)
        said, counted = outcome(case, report)
        tally.add(case, said, counted, len(report.diagnosis.candidates))
    return tally


def performance(
    count: Annotated[int, typer.Option(min=1, help="How many circuits.")] = 400,
    seed: Annotated[int, typer.Option(help="The same seed gives the same table.")] = 1,
) -> None:
    """Try the performance diagnosis on simulated faults and print how often it was right, undecided or wrong."""
    tally = run_trial(count, seed)
    for line in as_markdown(tally):
        typer.echo(line)


def as_markdown(tally: Tally) -> Iterator[str]:
    """Both tables and the two figures that count."""
    faults = sorted(set(tally.table) - {"healthy"})
    verdicts = ["nothing shows", *faults, "undecided", "not enough data"]
    yield from counted("truth \\ verdict", ["healthy", *faults], verdicts, _count(tally.table))
    yield ""
    bands = [band for band in ("healthy", "masked", *(name for name, _, _ in BANDS)) if band in tally.outcomes]
    yield from counted("severity", bands, list(OUTCOMES), _count(tally.outcomes))
    yield ""
    for label, but in (("Without masked faults", "masked"), ("With them", "")):
        fair = tally.share("correct", "undecided", "slight, nothing shows", "not enough data", but=but)
        right, wrong = (tally.share(one, but=but) for one in ("correct", "confident wrong"))
        yield f"{label}: correct {right:.1%}, correct or honestly undecided {fair:.1%}, confident wrong {wrong:.1%}."
    if tally.names:
        mean = sum(number * count for number, count in tally.names.items()) / tally.names.total()
        yield f"An undecided verdict names {mean:.1f} of 7 conditions on average."
    if tally.masked:
        yield ""
        yield from counted("masked", sorted(tally.masked), [name for name, _, _ in BANDS], _count(tally.masked))
        yield ""
        yield "Masked: receiver, accumulator, valve or control make up for it; no reading moves by 2 u of its probe."


def _count(counts: Mapping[str, Counter[str]]) -> Callable[[str, str], int]:
    return lambda row, column: counts.get(row, Counter())[column]
