"""The vacuum hold: tight, leaking, wet (or outgassing), both, or undecided. The pump is shut off; the pressure tells.

Rules, in this order:

1. **Risen?** `detection.py`: the slope against what noise, digits and temperature feign.
2. Not risen: TIGHT if a leak of the wanted size would almost surely (95 %) have been detected, else UNDECIDED.
   If the pressure stands at water's saturation pressure at the coldest part, UNDECIDED too: a wet circuit whose vapour
   has reached its ceiling stands as still as a dry one.
3. Risen: the four shapes of `rise_models.py` are fitted; "both" contains the others. How much worse the fit becomes
   without a cause is twice the logarithm of the likelihood ratio; its root, in standard deviations of the data, is the
   **need** for that cause: `leak_need` (both against wet) and `vapour_need` (both against leak).
4. **Fisher rule**: a cause is named if the need for it is NEED_SIGMA or more. Without noise the squared need is the
   Fisher information of the data about the part of the curve that no other cause can imitate; where it is smaller, no
   judgement could tell the causes apart, and the verdict is UNDECIDED. With d standard deviations between two curves
   the nearer one is the wrong one with probability Phi(-d / 2).
   | leak needed | vapour needed | verdict |
   |---|---|---|
   | yes | no | LEAKING |
   | no | yes | WET, or WET_LEAK_OPEN (rule 5) |
   | yes | yes | BOTH |
   | no | no | UNDECIDED |
5. WET says that no leak counts, so it needs what TIGHT needs: the leak's 95 % bound beside the vapour must not exceed
   the wanted size. Slow vapour imitates a leak; where the bound stays above, the verdict is WET_LEAK_OPEN: vapour for
   certain, and a leak neither shown nor excluded.
6. If even "both" leaves more than the errors allow, needs shrink by the root of that excess (Birge 1932).
7. The odds of the four shapes are weights exp(-BIC / 2) of the Bayesian information criterion, BIC = misfit + k ln m
   (Schwarz 1978): its price of a parameter grows with the number m of blocks, so that a longer look does not favour the
   richer shape, and m does not grow with the sampling rate.

Vapour of refrigerant or of oil rises like that of water. "Wet" therefore means "wet or outgassing".
Q = V dp/dt of the leak. Two descriptions are averaged by BIC: a leak alone, and a leak beside vapour, the latter over
its profile likelihood (all leaks of zero or more, each with the best vapour for it). Its uncertainty holds the doubt
how much is leak and how much vapour, and the volume's. Without a volume there is no Q.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from fillmark.engine.quantity import Quantity
from fillmark.engine.vacuum.algebra import Whitener
from fillmark.engine.vacuum.blocks import Blocks, blocks_of, covariance
from fillmark.engine.vacuum.detection import LONGEST_HOLD_S, Detection, detection, hold_needed_s
from fillmark.engine.vacuum.hold_types import Doubt, Hold, HoldSetup, HoldTooShortError, Verdict
from fillmark.engine.vacuum.hold_words import finding
from fillmark.engine.vacuum.leak_rate import pv_flow
from fillmark.engine.vacuum.rise_models import (
    LONGEST_SHARE,
    OUTGAS_LONGEST_S,
    VAPOUR_SHARE_U,
    Family,
    Fit,
    Shape,
    ramp,
)
from fillmark.engine.vacuum.series import Sample
from fillmark.engine.vacuum.water import relative_slope_per_k, saturation_pressure_pa

NEED_SIGMA = 3.5
"""A false need of so many sigma comes once in 4000 holds, if the errors are as stated. Adjusted on simulated holds."""

RISEN_SIGMA = 7.0
"""A constant that misses the data by so much has risen, even if the slope does not show it.
Adjusted on simulated holds, so that the reported detection limit stays that of the slope."""

HOTTEST_K = 333.15
"""No part is hotter than 60 °C while it is evacuated: the bound of water's ceiling where no temperature is known."""

COLDEST_U_K = 1.5
ZEROS_SHARE = 0.1
"""A gauge that shows zero so often may stand at the end of its scale."""

KNOWN_DRIFT_U_K = 0.3
"""What stays of a drift that a thermometer follows, K. Common practice, no source."""

LEAST_LONGER = 1.3
PROFILE_POINTS = 17
PROFILE_TURNS = 3
SHORTEST_SAMPLES = 10
AT_CEILING_SHARE = 0.1

ONE_SIDED_95 = 1.645
"""So many standard deviations above the mean hold 95 % of a normal distribution below them."""

VERDICTS = {
    (True, False): Verdict.LEAKING,
    (False, True): Verdict.WET,
    (True, True): Verdict.BOTH,
    (False, False): Verdict.UNDECIDED,
}
"""By (leak needed, vapour needed)."""

NAMES_VAPOUR = {Verdict.WET, Verdict.WET_LEAK_OPEN, Verdict.BOTH}


@dataclass(frozen=True, slots=True)
class _Comparison:
    """The fits, and what they leave open."""

    fits: dict[Shape, Fit]
    birge2: float
    leak_need: float
    vapour_need: float
    rise_need: float
    expected_need: float
    odds: dict[Shape, float]


@dataclass(frozen=True, slots=True)
class _Leak:
    """The leak's part of the rise, Pa/s: `slope` over all descriptions, `bound_pa_s` for 95 % beside vapour."""

    slope: Quantity
    bound_pa_s: float


@dataclass(frozen=True, slots=True)
class _Case:
    """All that was worked out of a hold."""

    blocks: Blocks
    seen: Detection
    family: Family
    compared: _Comparison
    leak: _Leak


def judge(samples: Sequence[Sample], setup: HoldSetup) -> Hold:
    """Judge a hold.

    Raises:
        HoldTooShortError: fewer than ten samples, or no time between them.
    """
    if len(samples) < SHORTEST_SAMPLES or samples[-1].time_s <= samples[0].time_s:
        raise HoldTooShortError(f"a hold needs {SHORTEST_SAMPLES} samples or more over some minutes; go on holding")
    samples, clipped = _on_scale(samples)
    blocks = blocks_of(samples, setup.gauge, setup.drift_u_k)
    level = sum(blocks.pressures_pa) / len(blocks.pressures_pa)
    seen = detection(blocks, level, at_zero=clipped)
    family = _family(blocks, setup)
    compared = _compare(blocks, family)
    leak = _leak(blocks, setup, family, compared)
    case = _Case(blocks, seen, family, compared, leak)
    verdict, doubt = _verdict(case, setup, level)
    if doubt is Doubt.NOT_SENSITIVE and clipped:
        doubt = Doubt.BELOW_SCALE
    made = _result(setup, case, verdict, doubt)
    made = replace(made, wanted_hold_s=_longer(made, setup, blocks))
    return replace(made, finding=finding(made, setup))


def _on_scale(samples: Sequence[Sample]) -> tuple[Sequence[Sample], bool]:
    """The samples from where the gauge shows more than zero on; and whether it stood at zero too long for that."""
    zeros = [i for i, s in enumerate(samples) if s.pressure_pa <= 0.0]
    if len(zeros) <= ZEROS_SHARE * len(samples):
        return samples, False
    rest = samples[zeros[-1] + 1 :]
    long_enough = len(rest) >= SHORTEST_SAMPLES and len(rest) >= len(samples) / 2
    return (rest, False) if long_enough else (samples, True)


def _family(blocks: Blocks, setup: HoldSetup) -> Family:
    """Covariances along a first, roughly fitted curve."""
    ceiling_k = setup.coldest_k if setup.coldest_k is not None else HOTTEST_K
    saturated = saturation_pressure_pa(ceiling_k)
    highest = saturation_pressure_pa(ceiling_k + 2.0 * COLDEST_U_K) * (1.0 + 2.0 * setup.gauge.span_share_u)
    plain, times, duration = _diagonal(blocks), blocks.times_s, blocks.duration_s
    rough = Family.of(
        times, times, duration_s=duration, longest_tau_s=max(OUTGAS_LONGEST_S, 10.0 * duration), dry=plain, wet=plain
    )
    curve = rough.vapour(blocks.pressures_pa, leaking=True).curve
    rise = max(max(curve) - min(curve), setup.gauge.resolution_pa / 2.0)
    longest = min(max(OUTGAS_LONGEST_S, highest * duration / rise), LONGEST_SHARE * duration)
    share = relative_slope_per_k(ceiling_k)
    with_temperature = [share * min(max(p, 0.0), saturated) for p in curve]
    dry = Whitener.of(covariance(blocks, curve))
    wet = Whitener.of(covariance(blocks, curve, with_temperature, VAPOUR_SHARE_U))
    passed = ramp(times, curve, setup.atmosphere_pa)
    return Family.of(times, passed, duration_s=duration, longest_tau_s=longest, dry=dry, wet=wet).refined(
        blocks.pressures_pa
    )


def _diagonal(blocks: Blocks) -> Whitener:
    floor = blocks.stair_pa**2 / 12.0
    size = len(blocks.counts)
    return Whitener.of(
        [[blocks.white_pa2 / n + floor if i == j else 0.0 for j in range(size)] for i, n in enumerate(blocks.counts)]
    )


def _compare(blocks: Blocks, family: Family) -> _Comparison:
    fits = family.fits(blocks.pressures_pa)
    both = fits[Shape.BOTH]
    count = len(blocks.counts)
    birge2 = max(both.chi2 / max(count - both.parameters, 1), 1.0)

    def need(without: Shape) -> float:
        return math.sqrt(max(fits[without].misfit - both.misfit, 0.0) / birge2)

    told_apart: list[Shape] = [shape for shape in (Shape.CONSTANT, Shape.LEAK, Shape.WET) if fits[shape].shape is shape]
    told_apart += [Shape.BOTH] if both.shape is Shape.BOTH and both.slope_pa_s and both.sources else []
    cost = {shape: fits[shape].misfit / birge2 + fits[shape].parameters * math.log(count) for shape in told_apart}
    weights = {shape: math.exp((min(cost.values()) - c) / 2.0) for shape, c in cost.items()}
    total = sum(weights.values())
    odds = {shape: weights.get(shape, 0.0) / total for shape in Shape}
    expected = math.sqrt(_chi2_between(family, fits) / birge2)
    return _Comparison(fits, birge2, need(Shape.WET), need(Shape.LEAK), need(Shape.CONSTANT), expected, odds)


def _chi2_between(family: Family, fits: dict[Shape, Fit]) -> float:
    """Squared need for the likelier single cause, had there been no noise."""
    line, wet = fits[Shape.LEAK], fits[Shape.WET]
    if line.misfit <= wet.misfit:
        return family.vapour(line.curve, leaking=False).chi2
    return family.dry_fit(wet.curve, leaking=True).chi2


def _verdict(case: _Case, setup: HoldSetup, level_pa: float) -> tuple[Verdict, Doubt | None]:
    seen, compared = case.seen, case.compared
    if not (seen.detected or compared.rise_need >= RISEN_SIGMA):
        if seen.sure_limit_pa_s > setup.wanted_pa_s:
            return Verdict.UNDECIDED, Doubt.NOT_SENSITIVE
        if _at_ceiling(case.blocks, setup, level_pa):
            return Verdict.UNDECIDED, Doubt.AT_WATER_SATURATION
        return Verdict.TIGHT, None
    said = VERDICTS[compared.leak_need >= NEED_SIGMA, compared.vapour_need >= NEED_SIGMA]
    if said is Verdict.WET and case.leak.bound_pa_s > setup.wanted_pa_s:
        return Verdict.WET_LEAK_OPEN, None
    return said, Doubt.LEAK_OR_MOISTURE if said is Verdict.UNDECIDED else None


def _at_ceiling(blocks: Blocks, setup: HoldSetup, level_pa: float) -> bool:
    if setup.coldest_k is None:
        return False
    low = saturation_pressure_pa(setup.coldest_k - 2.0 * COLDEST_U_K)
    high = saturation_pressure_pa(setup.coldest_k + 2.0 * COLDEST_U_K)
    blunt = blocks.gauge.reading_u_pa > AT_CEILING_SHARE * high
    return not blunt and low <= level_pa <= high


def _leak(blocks: Blocks, setup: HoldSetup, family: Family, compared: _Comparison) -> _Leak:
    beside, misfit = _beside_vapour(blocks, family, compared)
    slope = _leak_slope(blocks, family, compared, beside, misfit)
    with_span = Quantity(slope.value, math.hypot(slope.u, setup.gauge.span_share_u * slope.value))
    return _Leak(with_span, beside.value + ONE_SIDED_95 * beside.u)


def _leak_slope(blocks: Blocks, family: Family, compared: _Comparison, beside: Quantity, misfit: float) -> Quantity:
    """Mean and standard deviation over a leak alone and a leak beside vapour, weighted by BIC, Pa/s."""
    line = compared.fits[Shape.LEAK]
    alone = Quantity(line.slope_pa_s, family.dry_slope_u_pa_s * math.sqrt(compared.birge2))
    price = 2.0 * math.log(len(blocks.counts))
    odds = (line.misfit - misfit) / compared.birge2 - price
    share = 1.0 / (1.0 + math.exp(-max(min(odds, 600.0), -600.0) / 2.0))
    mean = share * beside.value + (1.0 - share) * alone.value
    variance = share * (beside.u**2 + (beside.value - mean) ** 2)
    variance += (1.0 - share) * (alone.u**2 + (alone.value - mean) ** 2)
    return Quantity(mean, math.sqrt(variance))


def _beside_vapour(blocks: Blocks, family: Family, compared: _Comparison) -> tuple[Quantity, float]:
    """The leak over its profile likelihood, with the best vapour for each leak, Pa/s; and the best misfit."""
    mean_rate = abs(blocks.pressures_pa[-1] - blocks.pressures_pa[0]) / blocks.duration_s
    blind = math.sqrt(blocks.white_pa2 / blocks.counts[0]) + blocks.stair_pa
    low, high = 0.0, 1.5 * max(compared.fits[Shape.LEAK].slope_pa_s, mean_rate) + 2.0 * blind / blocks.duration_s
    found, best = Quantity(0.0, high), math.inf
    for _ in range(PROFILE_TURNS):
        slopes = [low + (high - low) * i / (PROFILE_POINTS - 1) for i in range(PROFILE_POINTS)]
        misfits = [family.misfit_with(blocks.pressures_pa, b) for b in slopes]
        best = min(best, *misfits)
        weights = [math.exp((min(misfits) - m) / 2.0 / compared.birge2) for m in misfits]
        total = sum(weights)
        mean = sum(w * b for w, b in zip(weights, slopes, strict=True)) / total
        u = math.sqrt(sum(w * (b - mean) ** 2 for w, b in zip(weights, slopes, strict=True)) / total)
        found = Quantity(mean, u)
        reach = max(4.0 * u, (high - low) / (PROFILE_POINTS - 1))
        low, high = max(mean - reach, 0.0), mean + reach
    return found, best


def _result(setup: HoldSetup, case: _Case, verdict: Verdict, doubt: Doubt | None) -> Hold:
    blocks, seen, compared = case.blocks, case.seen, case.compared
    volume = setup.volume_m3
    vapour = compared.fits[Shape.BOTH].sources if verdict in NAMES_VAPOUR else ()
    u_step = math.hypot(
        setup.gauge.resolution_pa / math.sqrt(6.0), math.sqrt(2.0 * blocks.white_pa2 / blocks.counts[0])
    )
    return Hold(
        verdict=verdict,
        doubt=doubt,
        duration_s=blocks.duration_s,
        start_pa=blocks.pressures_pa[0],
        rise_pa=Quantity(blocks.pressures_pa[-1] - blocks.pressures_pa[0], u_step),
        thermal_rise_pa=_thermal(blocks),
        slope_pa_s=case.leak.slope,
        leak_bound_pa_s=case.leak.bound_pa_s,
        q_pa_m3_s=None if volume is None else pv_flow(volume, case.leak.slope),
        detected=seen.detected or compared.rise_need >= RISEN_SIGMA,
        detection_limit_pa_s=seen.limit_pa_s,
        sure_limit_pa_s=seen.sure_limit_pa_s,
        limit_q_pa_m3_s=None if volume is None else volume.value * seen.limit_pa_s,
        sure_q_pa_m3_s=None if volume is None else volume.value * seen.sure_limit_pa_s,
        ceiling_pa=None if setup.coldest_k is None else saturation_pressure_pa(setup.coldest_k),
        vapour_rise_pa=sum(s.rise_pa for s in vapour) if vapour else None,
        leak_need=compared.leak_need,
        vapour_need=compared.vapour_need,
        expected_need=compared.expected_need,
        odds=compared.odds,
        wanted_hold_s=None,
    )


def _longer(hold: Hold, setup: HoldSetup, blocks: Blocks) -> float | None:
    """How long a hold would be decided in. The need for a leak grows with the bend, T squared, and the root of T."""
    if hold.doubt in {Doubt.NOT_SENSITIVE, Doubt.BELOW_SCALE}:
        interval = hold.duration_s / sum(blocks.counts)
        drift = KNOWN_DRIFT_U_K if blocks.warming_k else setup.drift_u_k
        level = max(hold.start_pa, 0.0)
        return hold_needed_s(setup.gauge, setup.wanted_pa_s, interval_s=interval, level_pa=level, drift_u_k=drift)
    if hold.doubt is Doubt.LEAK_OR_MOISTURE:
        need = max(hold.leak_need, hold.vapour_need, hold.expected_need)
        longer = hold.duration_s * max((NEED_SIGMA / max(need, 1e-3)) ** 0.4, LEAST_LONGER)
        return longer if longer <= LONGEST_HOLD_S else None
    return None


def _thermal(blocks: Blocks) -> Quantity:
    level = blocks.pressures_pa[0]
    known = level * blocks.warming_k[-1] / blocks.temperature_k if blocks.warming_k else 0.0
    last = len(blocks.times_s) - 1
    return Quantity(known, abs(level) * math.sqrt(blocks.drift_k2(last, last)) / blocks.temperature_k)
