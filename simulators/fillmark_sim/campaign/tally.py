"""The tables of a campaign: quantiles and shares, class by class, in grams."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from fillmark_sim.campaign.charge import Outcome

HEAD = (
    "class", "n", "error median", "95 %", "max", "covered", "covered live", "u mean", "overshoot 95 %",
    "landing 95 %", "false calls", "missed", "called again", "by hand 95 %",
)  # fmt: skip
MOST_SEEDS = 8


def quantile(values: Sequence[float], share: float) -> float:
    """The smallest value that at least this share of the values does not exceed; NaN of nothing."""
    if not values:
        return math.nan
    ordered = sorted(values)
    return ordered[max(math.ceil(share * len(ordered) - 1e-9) - 1, 0)]


def by_class(outcomes: Sequence[Outcome]) -> dict[str, list[Outcome]]:
    """The outcomes of each class, in the order of their first."""
    rows: dict[str, list[Outcome]] = {}
    for one in outcomes:
        rows.setdefault(one.disturbance, []).append(one)
    return rows


def share(outcomes: Sequence[bool]) -> float:
    """Part that is true; NaN of nothing."""
    return sum(outcomes) / len(outcomes) if outcomes else math.nan


def grams(value_kg: float) -> str:
    """A mass in grams, a dash where there is none."""
    return "–" if math.isnan(value_kg) else f"{value_kg * 1e3:.1f}"


def _percent(value: float) -> str:
    return "–" if math.isnan(value) else f"{value:.1%}"


def _row(name: str, some: Sequence[Outcome]) -> tuple[str, ...]:
    errors = [abs(one.error_kg) for one in some]
    live = [abs(row.charged_error_kg) <= 2.0 * row.charged_u_kg for one in some for row in one.live]
    by_hand = [abs(one.hand_error_kg) for one in some if one.hand_error_kg is not None]
    return (
        name,
        str(len(some)),
        grams(quantile(errors, 0.5)),
        grams(quantile(errors, 0.95)),
        grams(max(errors)),
        _percent(share([one.covered for one in some])),
        _percent(share(live)),
        grams(sum(one.u_kg for one in some) / len(some)),
        grams(quantile([one.landing_kg for one in some], 0.95)),
        grams(quantile([abs(one.landing_kg) for one in some], 0.95)),
        _percent(share([one.false_call for one in some])),
        str(sum(one.missed_call for one in some)),
        str(sum(one.calls > 1 for one in some)),
        grams(quantile(by_hand, 0.95)),
    )


def as_markdown(outcomes: Sequence[Outcome]) -> Iterator[str]:
    """One row a class and one for all, in grams."""
    yield f"| {' | '.join(HEAD)} |"
    yield "|" + "---|" * len(HEAD)
    for name, some in (*by_class(outcomes).items(), ("all", outcomes)):
        yield f"| {' | '.join(_row(name, some))} |"


def rms(errors_kg: Sequence[float]) -> float:
    """Root of the mean square; NaN of nothing."""
    return math.sqrt(sum(one * one for one in errors_kg) / len(errors_kg)) if errors_kg else math.nan


def live_errors(some: Sequence[Outcome], method: int | None) -> list[float]:
    """Errors of the dispensed mass while the circuit was open: the weigher's own (None) or a method's, kg."""
    rows = [row for one in some for row in one.live]
    return [row.dispensed_error_kg if method is None else row.method_errors_kg[method] for row in rows]


def methods_as_markdown(outcomes: Sequence[Outcome], weigher: str, names: Sequence[str]) -> Iterator[str]:
    """RMS and 95 % of the dispensed mass's error while the circuit is open, and 95 % at the end, in grams."""
    yield f"| class | {' | '.join((weigher, *names))} |"
    yield "|" + "---|" * (len(names) + 2)
    for name, some in by_class(outcomes).items():
        cells = []
        for method in (None, *range(len(names))):
            live = live_errors(some, method)
            ends = [one.dispensed_error_kg if method is None else one.method_errors_kg[method] for one in some]
            far = quantile([abs(one) for one in live], 0.95)
            cells.append(f"{grams(rms(live))} / {grams(far)} / {grams(quantile([abs(one) for one in ends], 0.95))}")
        yield f"| {name} | {' | '.join(cells)} |"


def misses(outcomes: Sequence[Outcome]) -> Iterator[str]:
    """The seeds that are worth a look, class by class."""
    for name, some in by_class(outcomes).items():
        found = {
            "not covered": [one for one in some if not one.covered],
            "error above 5 g": [one for one in some if abs(one.error_kg) > 0.005],
            "overshoot above 5 g": [one for one in some if one.landing_kg > 0.005],
            "false call": [one for one in some if one.false_call],
            "missed call": [one for one in some if one.missed_call],
        }
        for what, cases in found.items():
            worst = sorted(cases, key=lambda one: -max(abs(one.error_kg), abs(one.landing_kg)))
            if cases:
                seeds = ", ".join(str(one.seed) for one in worst[:MOST_SEEDS])
                yield f"* {name}, {what}: {len(cases)} (seeds {seeds}{', …' if len(cases) > MOST_SEEDS else ''})"
