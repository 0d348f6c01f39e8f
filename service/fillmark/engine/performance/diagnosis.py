"""The diagnosis: odds among a few conditions, from readings against stated expectations. An aid, not a verdict.

* Each feature's deviation from what a healthy circuit shows is weighed under each condition: naive Bayes with the
  shifts of `conditions` and the widths of `expectations`. How severe a fault is, is unknown and averaged over.
* A likelihood has the tails of Student's t with few degrees of freedom: one wild reading decides nothing.
* Features share causes (one condenser, one ambient), so their evidence is worth less than its sum: `EVIDENCE_SHARE`.
* Odds before reading: healthy `HEALTHY_BEFORE` times as likely as each fault, all faults alike.
* A fault is named alone only where its probability is at least `CONFIDENT`, and the readings fit it at all.
* "Nothing shows" where healthy is likeliest and all faults of consequence together hold at most `NOTHING_SERIOUS`.
  Mild faults are not excluded by it: circuits that nobody measured when new differ from each other by more.
  These thresholds and `SHIFT_SPREAD` were chosen on simulated circuits; `fillmark trial performance` measures them on
  others.
* Otherwise all that together hold `COVERED` are named, with the reading that would tell them best apart.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from fillmark.engine.performance.conditions import ADVICE, FAULTS, SHIFTS, VEHICLE, Condition, Feature, Layout, shifted
from fillmark.engine.performance.cycle import Cycle, sentences
from fillmark.engine.performance.cycling import Rhythm
from fillmark.engine.performance.expectations import healthy, observed
from fillmark.engine.performance.static import StaticCheck
from fillmark.engine.performance.values import ZERO_CELSIUS_K
from fillmark.engine.performance.vent import Expected
from fillmark.engine.quantity import Quantity
from fillmark.engine.report import Finding
from fillmark.refrigerants.protocol import Refrigerant

SEVERITIES = (0.25, 0.5, 0.75, 1.0, 1.25)
SHIFT_SPREAD = 0.2
DEGREES_OF_FREEDOM = 6.0
EVIDENCE_SHARE = 1.0
HEALTHY_BEFORE = 2.0
CONFIDENT = 0.85
SERIOUS = 0.5
NOTHING_SERIOUS = 0.12
COVERED = 0.95
ADVISED = 2
COLDEST_SHIFT_CYCLING_K = -3.0
LEAST_ROOM_K = 3.0
WORST_FIT = 3.5
"""Mean square deviation, in widths, above which the readings fit nothing that is known."""

LOWEST_CRITICAL_K = 320.0
NO_EXPECTATIONS = "{name} works at or above its critical point on a warm day: what is usual then is not known here."
"""R-744: its high side is a gas cooler, whose pressure is the control's choice and not the air's."""

READ_AIR = "Read temperature and humidity of the air that enters the evaporator."

BOUNDED = (Feature.SUBCOOLING, Feature.EVAPORATING)

ESSENTIAL = (Feature.EVAPORATING, Feature.OVER_AMBIENT)
AT_LEAST = 4

HOW_TO_READ: Mapping[Feature, str] = {
    Feature.EVAPORATING: "the low pressure",
    Feature.OVER_AMBIENT: "the high pressure and the ambient temperature",
    Feature.SUPERHEAT: "the suction line's temperature, with the low pressure",
    Feature.SUBCOOLING: "the liquid line's temperature, with the high pressure",
    Feature.VENT: "the vent temperature",
    Feature.DISCHARGE: "the discharge line's temperature",
    Feature.CYCLE_RATE: "the low pressure for two minutes and more, for the compressor's cycling",
    Feature.STATIC_EXCESS: "the static pressure after a night's standing, against the ambient temperature",
}


UNITS: Mapping[Feature, str] = {Feature.CYCLE_RATE: "", Feature.STATIC_EXCESS: " kPa"}
"""All others are in K."""


class Verdict(StrEnum):
    """How far the readings reach."""

    CLEAR = "clear"
    NOTHING_SHOWS = "nothing shows"
    UNDECIDED = "undecided"
    NOT_ENOUGH = "not enough data"


@dataclass(frozen=True, slots=True)
class Weighed:
    """One feature: what was read, and what a healthy circuit would show with its spread."""

    feature: Feature
    read: Quantity
    healthy: Quantity


@dataclass(frozen=True, slots=True)
class Diagnosis:
    """The result.

    Attributes:
        condition: what it is, where the verdict is clear; healthy or cycling normally where nothing shows.
        candidates: what it may be, likeliest first; one where clear, none where there is not enough data.
        serious: probability of any fault of consequence (`SERIOUS` and worse). None: not enough data.
        odds: probability of every condition, likeliest first; empty where there is not enough data.
        weighed: what was compared.
        ask: the readings that would help most, best first.
    """

    verdict: Verdict
    condition: Condition | None
    candidates: tuple[Condition, ...]
    odds: tuple[tuple[Condition, float], ...]
    serious: float | None
    weighed: tuple[Weighed, ...]
    ask: tuple[Feature, ...]
    finding: Finding


@dataclass(frozen=True, slots=True)
class Usual:
    """What is usual under the present load, and how far a deviation from it may speak."""

    refrigerant: str
    allowed: Expected
    cycling: bool
    over_ambient_k: float

    def of(self, layout: Layout, feature: Feature) -> Quantity:
        """What a healthy circuit shows. Liquid lies between boiling and the air, which also bounds how it varies."""
        value = healthy(layout, feature, self.refrigerant, self.allowed, cycling=self.cycling)
        if feature is not Feature.SUBCOOLING:
            return value
        return Quantity(value.value, min(value.u, max(self.over_ambient_k, LEAST_ROOM_K) / 3.0))

    def deviation(self, layout: Layout, feature: Feature, read: Quantity) -> float:
        """Reading over the usual. Beyond what the table knows, more of the same is no further evidence."""
        known = [table[feature] for table in SHIFTS[layout].values()]
        usual = self.of(layout, feature)
        most, least = (SEVERITIES[-1] * bound for bound in (max(*known, 0.0), min(*known, 0.0)))
        off = read.value - usual.value
        return min(max(off, least - 2.0 * usual.u), most + 2.0 * usual.u)

    def allows(self, layout: Layout, feature: Feature, shift: float) -> float:
        """The shift that can be: liquid grows no colder than the air, nor a coil while the control cycles."""
        if feature is Feature.SUBCOOLING:
            return min(shift, max(self.over_ambient_k, 0.0) - self.of(layout, feature).value)
        if self.cycling and feature is Feature.EVAPORATING:
            return max(shift, COLDEST_SHIFT_CYCLING_K)
        return shift


def diagnose(
    refrigerant: Refrigerant,
    seen: Cycle,
    allowed: Expected | None,
    *,
    rhythm: Rhythm | None = None,
    static: StaticCheck | None = None,
    layouts: Sequence[Layout] = VEHICLE,
) -> Diagnosis:
    """Weigh the readings. Never raises.

    Args:
        refrigerant: of the circuit.
        seen: the cycle, averaged over a steady time.
        allowed: what ambient and humidity allow.
        rhythm: the compressor's cycling, where it was watched.
        static: the check before start, where it was made.
        layouts: what the circuit may be; one where it is known. At least one.
    """
    read = observed(seen, rhythm, static)
    seen_text = (*sentences(refrigerant, seen), *_more(seen, allowed, rhythm))
    lacking = tuple(feature for feature in ESSENTIAL if feature not in read)
    if seen.transcritical or refrigerant.critical_temperature_k < LOWEST_CRITICAL_K:
        return _not_enough(seen_text, (), NO_EXPECTATIONS.format(name=refrigerant.name))
    if lacking or len(read) < AT_LEAST:
        ask = lacking or tuple(feature for feature in Feature if feature not in read)[:2]
        return _not_enough(seen_text, ask, "Too little was read to tell conditions apart.")
    if allowed is None:
        return _not_enough(seen_text, (), "The air that enters the evaporator is not known.", READ_AIR)
    well = Condition.CYCLING_NORMALLY if rhythm is not None and rhythm.cycling else Condition.HEALTHY
    over_ambient_k = read[Feature.OVER_AMBIENT].value
    usual = Usual(refrigerant.name, allowed, well is Condition.CYCLING_NORMALLY, over_ambient_k)
    return _weighed_up(read, usual, layouts, well, seen_text)


def _weighed_up(
    read: Mapping[Feature, Quantity],
    usual: Usual,
    layouts: Sequence[Layout],
    well: Condition,
    seen_text: tuple[str, ...],
) -> Diagnosis:
    odds = _odds(read, usual, layouts, well)
    weighed = tuple(Weighed(f, value, usual.of(layouts[0], f)) for f, value in read.items())
    verdict = _verdict(odds, well)
    named = (odds.ordered[0][0],) if verdict is Verdict.CLEAR else _named(odds.ordered)
    ask = _best_questions(named, read, usual, layouts[0]) if verdict is Verdict.UNDECIDED else ()
    return Diagnosis(
        verdict=verdict,
        condition={Verdict.CLEAR: named[0], Verdict.NOTHING_SHOWS: well}.get(verdict),
        candidates=named,
        odds=odds.ordered,
        serious=odds.serious,
        weighed=weighed,
        ask=ask,
        finding=_finding(verdict, named, odds, ask, (*seen_text, *_deviations(weighed))),
    )


def _verdict(odds: _Odds, well: Condition) -> Verdict:
    first, probability = odds.ordered[0]
    if odds.misfit > WORST_FIT:
        return Verdict.UNDECIDED
    if first is not well and probability >= CONFIDENT:
        return Verdict.CLEAR
    if first is well and odds.serious <= NOTHING_SERIOUS:
        return Verdict.NOTHING_SHOWS
    return Verdict.UNDECIDED


@dataclass(frozen=True, slots=True)
class _Odds:
    """Probabilities, likeliest first; that of any fault of consequence; the likeliest explanation's misfit."""

    ordered: tuple[tuple[Condition, float], ...]
    serious: float
    misfit: float


def _odds(read: Mapping[Feature, Quantity], usual: Usual, layouts: Sequence[Layout], well: Condition) -> _Odds:
    weight: dict[tuple[Condition, float], float] = {}
    misfit: dict[Condition, tuple[float, float]] = {}
    stands = {
        layout: {
            feature: (usual.deviation(layout, feature, value), math.hypot(usual.of(layout, feature).u, value.u))
            for feature, value in read.items()
        }
        for layout in layouts
    }
    for condition in (well, *FAULTS):
        severities = (0.0,) if condition is well else SEVERITIES
        before = math.log((HEALTHY_BEFORE if condition is well else 1.0) / len(severities))
        for severity in severities:
            cases = [_likelihood(stands[layout], usual, layout, condition, severity) for layout in layouts]
            weight[condition, severity] = before + _log_mean([one for one, _ in cases])
            misfit[condition] = max(misfit.get(condition, cases[0]), *cases)
    top = max(weight.values())
    share = {key: math.exp(value - top) for key, value in weight.items()}
    total = sum(share.values())
    chance = {one: sum(part for key, part in share.items() if key[0] is one) / total for one in (well, *FAULTS)}
    ordered = sorted(chance.items(), key=lambda item: -item[1])
    serious = sum(part for (_, severity), part in share.items() if severity >= SERIOUS) / total
    return _Odds(tuple(ordered), serious, misfit[ordered[0][0]][1])


def _likelihood(
    stands: Mapping[Feature, tuple[float, float]], usual: Usual, layout: Layout, condition: Condition, severity: float
) -> tuple[float, float]:
    """Log-likelihood of the deviations, each with its width, and their mean square in widths."""
    log = squares = 0.0
    for feature, (deviation, spread) in stands.items():
        shift = shifted(layout, condition, feature, severity)
        if feature in BOUNDED:
            shift = usual.allows(layout, feature, shift)
        width = math.hypot(spread, SHIFT_SPREAD * shift)
        square = ((deviation - shift) / width) ** 2
        log -= math.log(width) + (DEGREES_OF_FREEDOM + 1.0) / 2.0 * math.log1p(square / DEGREES_OF_FREEDOM)
        squares += square
    return EVIDENCE_SHARE * log, squares / len(stands)


def _log_mean(logs: Sequence[float]) -> float:
    top = max(logs)
    return top + math.log(sum(math.exp(one - top) for one in logs) / len(logs))


def _named(odds: Sequence[tuple[Condition, float]]) -> tuple[Condition, ...]:
    named: list[Condition] = []
    held = 0.0
    for condition, probability in odds:
        if held >= COVERED:
            break
        named.append(condition)
        held += probability
    return tuple(named)


def _best_questions(
    candidates: Sequence[Condition], read: Mapping[Feature, Quantity], usual: Usual, layout: Layout
) -> tuple[Feature, ...]:
    """Features not read yet that would tell the two likeliest apart, best first."""
    if len(candidates) < 2:
        return ()
    first, second = candidates[:2]

    def worth(feature: Feature) -> float:
        shift = [shifted(layout, one, feature, 1.0) for one in (first, second)]
        return abs(shift[0] - shift[1]) / usual.of(layout, feature).u

    missing = [feature for feature in Feature if feature not in read and worth(feature) >= 0.5]
    return tuple(sorted(missing, key=lambda feature: -worth(feature)))


def _more(seen: Cycle, allowed: Expected | None, rhythm: Rhythm | None) -> tuple[str, ...]:
    said = []
    vent = seen.given.vent_k
    if vent is not None and allowed is not None:
        said.append(
            f"Vent {vent - ZERO_CELSIUS_K:.1f} °C; the air allows "
            f"{allowed.vent.value - ZERO_CELSIUS_K:.0f} ± {allowed.vent.u:.0f} °C."
        )
    if rhythm is not None and rhythm.rate_per_min is not None and rhythm.duty is not None:
        said.append(f"The compressor cycles {rhythm.rate_per_min:.1f} times a minute and runs {rhythm.duty:.0%}.")
    return tuple(said)


_OPEN = (
    "It is an aid: odds from readings and from what circuits of this kind usually show, not an inspection.",
    "Two faults at once, a faulty probe, and mild faults that a valve or a receiver makes up for are not excluded.",
)


def _not_enough(seen_text: tuple[str, ...], ask: tuple[Feature, ...], why: str, *steps: str) -> Diagnosis:
    readings = tuple(f"Read {HOW_TO_READ[feature]}." for feature in ask)
    finding = Finding(seen_text, (), (why,), (*steps, *readings))
    return Diagnosis(Verdict.NOT_ENOUGH, None, (), (), None, (), ask, finding)


def _finding(
    verdict: Verdict, named: tuple[Condition, ...], odds: _Odds, ask: tuple[Feature, ...], seen_text: tuple[str, ...]
) -> Finding:
    chance = dict(odds.ordered)
    listed = ", ".join(f"{one} {chance[one]:.0%}" for one in named)
    said = {
        Verdict.CLEAR: f"Most likely: {listed}.",
        Verdict.NOTHING_SHOWS: f"No fault of consequence shows (odds of one: {odds.serious:.0%}). Odds: {listed}.",
    }.get(verdict, f"Undecided between {listed}.")
    advice = tuple(ADVICE[one] for one in named[: ADVISED if verdict is Verdict.UNDECIDED else 1])
    steps = tuple(f"Read {HOW_TO_READ[feature]}." for feature in ask) or advice
    misfit = ("The readings fit none of the known conditions well: check the probes.",)
    return Finding(seen_text, (said,), _OPEN if odds.misfit <= WORST_FIT else (*misfit, *_OPEN), steps)


def _deviations(weighed: tuple[Weighed, ...]) -> tuple[str, ...]:
    """The readings that lie outside what is usual."""
    said = []
    for one in weighed:
        width = math.hypot(one.healthy.u, one.read.u)
        off = one.read.value - one.healthy.value
        if abs(off) > 1.5 * width:
            side = "above" if off > 0.0 else "below"
            unit = UNITS.get(one.feature, " K")
            said.append(
                f"{one.feature.capitalize()} is {abs(off):.0f}{unit} {side} the usual (spread {width:.0f}{unit})."
            )
    return tuple(said)
