"""The vacuum hold: tight, leaking, wet (or outgassing), both, or undecided. The pump is shut off; the pressure tells.

Rules, in this order:

1. **Risen?** `detection.py`: the slope against what noise, digits and temperature feign.
2. Not risen: TIGHT if a leak of the wanted size would almost surely (95 %) have been detected, else UNDECIDED.
   If the pressure stands at water's saturation pressure at the coldest part, UNDECIDED too: a wet circuit whose vapour
   has reached its ceiling stands as still as a dry one.
3. Risen: the four shapes of `rise_models.py` are fitted. The best is chosen by the Bayesian information criterion,
   BIC = chi2 + ln det C + k ln m (Schwarz 1978): its price of a parameter grows with the number m of blocks, so that a
   longer look does not favour the richer shape; m does not grow with the sampling rate.
4. A verdict names a cause only if the data can tell it from the other one. **Fisher rule**: take the best curve, without
   noise, and fit it with the best curve of the shape that lacks the cause. The root of what is left, in standard
   deviations of the data, is the `separation`: its square is the Fisher information about the difference. Below
   SEPARATION_SIGMA the verdict is UNDECIDED. With d standard deviations between two curves the nearer one is the wrong
   one with probability Phi(-d / 2).
   * leak shape best, and it is apart from every wet one: LEAKING
   * wet shape best, and it is apart from every leak: WET
   * both best: BOTH if apart from either; the one cause that it cannot do without if apart from one; else UNDECIDED.
5. If the best shape of all leaves more than its errors allow, separations shrink by the root of that excess (Birge 1932).

Vapour of refrigerant or of oil rises like that of water. WET therefore means "wet or outgassing".
Q = V dp/dt of the leak, averaged over the shapes that have a leak with weights exp(-BIC / 2): its uncertainty holds the
doubt which shape is true. The volume's uncertainty is in it. Without a volume there is no Q.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from fillmark.engine.vacuum.algebra import Whitener
from fillmark.engine.vacuum.blocks import Blocks, blocks_of, covariance
from fillmark.engine.vacuum.detection import Detection, detection
from fillmark.engine.vacuum.finding import Finding, Quantity
from fillmark.engine.vacuum.gauge import Gauge
from fillmark.engine.vacuum.leak_rate import pv_flow
from fillmark.engine.vacuum.rise_models import PARAMETERS, Family, Fit, Shape
from fillmark.engine.vacuum.series import Sample
from fillmark.engine.vacuum.water import relative_slope_per_k, saturation_pressure_pa

SEPARATION_SIGMA = 4.5
"""Two curves so far apart are mistaken for each other once in 80 times at worst."""

WANTED_RISE_PA_S = 66.7 / 1800.0
"""A rise of 500 micron within half an hour is the least that every hold should exclude. Common practice, no source."""

DRIFT_U_K = 1.0
"""Standard uncertainty of the temperature over a hold that nobody measured, K. Common practice, no source."""

HOTTEST_K = 333.15
"""No part is hotter than 60 °C while it is evacuated: the bound of water's ceiling where no temperature is known."""

COLDEST_U_K = 1.5
SHORTEST_SAMPLES = 10
AT_CEILING_SHARE = 0.1


class Verdict(StrEnum):
    """What the hold says."""

    TIGHT = "tight"
    LEAKING = "leaking"
    WET = "wet_or_outgassing"
    BOTH = "leaking_and_wet"
    UNDECIDED = "undecided"


class Doubt(StrEnum):
    """Why a hold is undecided."""

    NOT_SENSITIVE = "not_sensitive"
    AT_WATER_SATURATION = "at_water_saturation"
    LEAK_OR_MOISTURE = "leak_or_moisture"


class HoldTooShortError(ValueError):
    """Not enough samples to judge a hold."""


@dataclass(frozen=True, slots=True)
class HoldSetup:
    """What is known beside the samples.

    Attributes:
        gauge: resolution and noise.
        volume_m3: of the circuit with hoses; None: unknown.
        coldest_k: temperature of the coldest part; None: unknown.
        wanted_rise_pa_s: smallest rise that must not be missed, Pa/s.
        wanted_q_pa_m3_s: smallest leak that must not be missed; counts before the rise where the volume is known.
        drift_u_k: see DRIFT_U_K.
    """

    gauge: Gauge
    volume_m3: Quantity | None = None
    coldest_k: float | None = None
    wanted_rise_pa_s: float = WANTED_RISE_PA_S
    wanted_q_pa_m3_s: float | None = None
    drift_u_k: float = DRIFT_U_K

    @property
    def wanted_pa_s(self) -> float:
        """The rise that must not be missed, Pa/s."""
        if self.wanted_q_pa_m3_s is None or self.volume_m3 is None:
            return self.wanted_rise_pa_s
        return self.wanted_q_pa_m3_s / self.volume_m3.value


@dataclass(frozen=True, slots=True)
class Hold:
    """The result. Pressures Pa, rates Pa/s, flows Pa m³/s. None: unknown.

    Attributes:
        rise_pa: last block less the first, and its uncertainty.
        thermal_rise_pa: what temperature alone explains.
        slope_pa_s: the leak's share of the rise rate if there is one.
        q_pa_m3_s: the leak's pV flow.
        detection_limit: a leak of that slope would have been detected half the time; `sure_limit` 95 times in 100.
        limit_q_pa_m3_s, sure_q_pa_m3_s: the same as pV flows.
        ceiling_pa: water's saturation pressure at the coldest part.
        approaches_pa: where the wet shape levels off, with tau_s, if the verdict names one.
        separation_sigma: how far the data part leak from moisture; None: nothing rose.
        odds: shares of the four shapes by BIC.
        wanted_hold_s: how long a hold would need for the wanted sensitivity; None: this one is enough.
    """

    verdict: Verdict
    doubt: Doubt | None
    duration_s: float
    start_pa: float
    rise_pa: Quantity
    thermal_rise_pa: Quantity
    slope_pa_s: Quantity
    q_pa_m3_s: Quantity | None
    detected: bool
    detection_limit_pa_s: float
    sure_limit_pa_s: float
    limit_q_pa_m3_s: float | None
    sure_q_pa_m3_s: float | None
    ceiling_pa: float | None
    approaches_pa: float | None
    tau_s: float | None
    separation_sigma: float | None
    odds: dict[Shape, float]
    wanted_hold_s: float | None
    finding: Finding = Finding()


@dataclass(frozen=True, slots=True)
class _Comparison:
    """The fits, and what they leave open."""

    best: Fit
    fits: dict[Shape, list[Fit]]
    from_wet: float
    from_leak: float
    odds: dict[Shape, float]


def judge(samples: Sequence[Sample], setup: HoldSetup) -> Hold:
    """Judge a hold.

    Raises:
        HoldTooShortError: fewer than ten samples, or no time between them.
    """
    if len(samples) < SHORTEST_SAMPLES or samples[-1].time_s <= samples[0].time_s:
        raise HoldTooShortError(f"a hold needs {SHORTEST_SAMPLES} samples or more over some minutes; go on holding")
    blocks = blocks_of(samples, setup.gauge, setup.drift_u_k)
    level = sum(blocks.pressures_pa) / len(blocks.pressures_pa)
    seen = detection(blocks, level)
    family = _family(blocks, setup)
    compared = _compare(blocks, family)
    verdict, doubt = _verdict(blocks, setup, seen, compared, level)
    return _result(blocks, setup, seen, family, compared, (verdict, doubt))


def _family(blocks: Blocks, setup: HoldSetup) -> Family:
    """Covariances along a first, roughly fitted curve."""
    ceiling_k = setup.coldest_k if setup.coldest_k is not None else HOTTEST_K
    saturated = saturation_pressure_pa(ceiling_k)
    highest = saturation_pressure_pa(ceiling_k + 2.0 * COLDEST_U_K) * (1.0 + 2.0 * setup.gauge.span_share_u)
    plain = _diagonal(blocks)
    rough = Family.of(blocks.times_s, blocks.duration_s, highest, plain, plain).fits(blocks.pressures_pa)
    curve = min((fits[0] for fits in rough.values()), key=lambda f: f.misfit + 4.0 * PARAMETERS[f.shape]).curve
    share = relative_slope_per_k(ceiling_k)
    drift = blocks.warming_k or blocks.drift_k
    with_temperature = [share * k * min(max(p, 0.0), saturated) for k, p in zip(drift, curve, strict=True)]
    dry = Whitener.of(covariance(blocks, curve))
    wet = Whitener.of(covariance(blocks, curve, with_temperature))
    return Family.of(blocks.times_s, blocks.duration_s, highest, dry, wet)


def _diagonal(blocks: Blocks) -> Whitener:
    floor = blocks.stair_pa**2 / 12.0
    size = len(blocks.counts)
    return Whitener.of(
        [[blocks.white_pa2 / n + floor if i == j else 0.0 for j in range(size)] for i, n in enumerate(blocks.counts)]
    )


def _compare(blocks: Blocks, family: Family) -> _Comparison:
    fits = family.fits(blocks.pressures_pa)
    price = math.log(len(blocks.counts))
    cost = {shape: found[0].misfit + PARAMETERS[shape] * price for shape, found in fits.items()}
    best = fits[min(cost, key=lambda shape: cost[shape])][0]
    free = max(len(blocks.counts) - PARAMETERS[best.shape], 1)
    birge = math.sqrt(max(min(found[0].chi2 for found in fits.values()) / free, 1.0))
    low = min(cost.values())
    weights = {shape: math.exp(-(c - low) / 2.0 / birge**2) for shape, c in cost.items()}
    total = sum(weights.values())
    return _Comparison(
        best,
        fits,
        family.distance(best.curve, Shape.WET) / birge,
        family.distance(best.curve, Shape.LEAK) / birge,
        {shape: w / total for shape, w in weights.items()},
    )


def _verdict(
    blocks: Blocks, setup: HoldSetup, seen: Detection, compared: _Comparison, level_pa: float
) -> tuple[Verdict, Doubt | None]:
    if not seen.detected:
        if seen.sure_limit_pa_s > setup.wanted_pa_s:
            return Verdict.UNDECIDED, Doubt.NOT_SENSITIVE
        if _at_ceiling(blocks, setup, level_pa):
            return Verdict.UNDECIDED, Doubt.AT_WATER_SATURATION
        return Verdict.TIGHT, None
    leak = compared.from_wet >= SEPARATION_SIGMA
    wet = compared.from_leak >= SEPARATION_SIGMA
    match compared.best.shape:
        case Shape.BOTH if leak and wet:
            return Verdict.BOTH, None
        case Shape.BOTH | Shape.LEAK if leak:
            return Verdict.LEAKING, None
        case Shape.BOTH | Shape.WET if wet:
            return Verdict.WET, None
        case _:
            return Verdict.UNDECIDED, Doubt.LEAK_OR_MOISTURE


def _at_ceiling(blocks: Blocks, setup: HoldSetup, level_pa: float) -> bool:
    if setup.coldest_k is None:
        return False
    low = saturation_pressure_pa(setup.coldest_k - 2.0 * COLDEST_U_K)
    high = saturation_pressure_pa(setup.coldest_k + 2.0 * COLDEST_U_K)
    blunt = blocks.gauge.reading_u_pa > AT_CEILING_SHARE * high
    return not blunt and low <= level_pa <= high


def _leak_slope(blocks: Blocks, family: Family, compared: _Comparison, verdict: Verdict) -> Quantity:
    """Average over all fits that have a leak, weighted by BIC."""
    if verdict in {Verdict.TIGHT, Verdict.UNDECIDED} and not compared.fits[Shape.LEAK][0].slope_pa_s:
        return Quantity(*family.slope(blocks.pressures_pa))
    price = math.log(len(blocks.counts))
    leaks = [
        f for shape in (Shape.LEAK, Shape.BOTH) for f in compared.fits[shape] if f.shape in {Shape.LEAK, Shape.BOTH}
    ]
    if not leaks:
        return Quantity(*family.slope(blocks.pressures_pa))
    free = max(len(blocks.counts) - 4, 1)
    birge2 = max(min(f.chi2 for f in leaks) / free, 1.0)
    costs = [(f.misfit + PARAMETERS[f.shape] * price) / birge2 for f in leaks]
    weights = [math.exp(-(c - min(costs)) / 2.0) for c in costs]
    total = sum(weights)
    mean = sum(w * f.slope_pa_s for w, f in zip(weights, leaks, strict=True)) / total
    spread = sum(
        w * (birge2 * f.slope_u_pa_s**2 + (f.slope_pa_s - mean) ** 2) for w, f in zip(weights, leaks, strict=True)
    )
    return Quantity(mean, math.sqrt(spread / total))


def _result(
    blocks: Blocks,
    setup: HoldSetup,
    seen: Detection,
    family: Family,
    compared: _Comparison,
    said: tuple[Verdict, Doubt | None],
) -> Hold:
    verdict, doubt = said
    slope = _leak_slope(blocks, family, compared, verdict)
    span = setup.gauge.span_share_u
    slope = Quantity(slope.value, math.hypot(slope.u, span * slope.value))
    volume = setup.volume_m3
    wet = compared.best if verdict in {Verdict.WET, Verdict.BOTH} else None
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
        slope_pa_s=slope,
        q_pa_m3_s=None if volume is None else pv_flow(volume, slope),
        detected=seen.detected,
        detection_limit_pa_s=seen.limit_pa_s,
        sure_limit_pa_s=seen.sure_limit_pa_s,
        limit_q_pa_m3_s=None if volume is None else volume.value * seen.limit_pa_s,
        sure_q_pa_m3_s=None if volume is None else volume.value * seen.sure_limit_pa_s,
        ceiling_pa=None if setup.coldest_k is None else saturation_pressure_pa(setup.coldest_k),
        approaches_pa=None if wet is None else wet.curve[0] + wet.rise_pa,
        tau_s=None if wet is None else wet.tau_s,
        separation_sigma=min(compared.from_wet, compared.from_leak) if seen.detected else None,
        odds=compared.odds,
        wanted_hold_s=None,
    )


def _thermal(blocks: Blocks) -> Quantity:
    level = blocks.pressures_pa[0]
    known = level * blocks.warming_k[-1] / blocks.temperature_k if blocks.warming_k else 0.0
    return Quantity(known, abs(level * blocks.drift_k[-1] / blocks.temperature_k))
