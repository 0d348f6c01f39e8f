"""Standing test with dry nitrogen, compensated for temperature.

* In a closed volume p / T stays: the pressure brought back to the first temperature is p T0 / T, absolute. What is left
  of a fall is a leak. Without a temperature only a fall beyond what `drift_u_k` explains counts.
* The slope is that of a straight line over blocks of equal time, by generalised least squares with the covariance of
  `blocks.py`: noise, rounding, a gas that follows its thermometer by a little more or less than wholly, and the warmth
  of the filling. Where the temperature bends and a leak does not, the line tells both apart.
* A fall counts as detected beyond FALSE_ALARM_SIGMA standard deviations and what one step of the gauge can feign (as in
  `detection.py`). A leak of that size is detected half the time, one SURE_SIGMA more in 95 of 100.
* Verdict: LEAKING if the fall exceeds its threshold; TIGHT if the smallest surely detected leak is not above the wanted
  one; else UNDECIDED.
* Q = V dp/dt, Pa m³/s at the test pressure. A leak passes more at a higher pressure and another gas differently: it is
  not the loss of refrigerant.

Test procedure by pressure decay: EN 1779:1999, technique D1 (from memory); p / T by Boyle and Gay-Lussac.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from fillmark.engine.atmosphere import Barometer
from fillmark.engine.quantity import Quantity, duration_text, pressure_text
from fillmark.engine.report import NOTHING_SAID, Finding
from fillmark.engine.vacuum.algebra import Whitener, solve
from fillmark.engine.vacuum.blocks import Blocks, blocks_of, covariance
from fillmark.engine.vacuum.detection import FALSE_ALARM_SIGMA, Detection
from fillmark.engine.vacuum.gauge import Gauge
from fillmark.engine.vacuum.hold_types import HoldTooShortError
from fillmark.engine.vacuum.leak_rate import pv_flow
from fillmark.engine.vacuum.series import Sample

DRIFT_U_K = 1.5
"""Standard uncertainty of a gas temperature that nobody measured over the test. Common practice, no source."""

SURE_SIGMA = 1.645
"""95 % of a normal distribution lie below it."""

WARM_U_K = 3.0
COOLS_S = (20.0, 60.0, 120.0)
"""Nitrogen that was let in is compressed and warm, and cools on the walls within minutes; no thermometer outside sees
that. It is an error of a few kelvin that dies away. Common practice, no source."""

LEAST_SAMPLES = 10

CAUTIONS = (
    "Use dry nitrogen only. Never oxygen, and never compressed air: with oil they can explode.",
    "Use a pressure regulator with a relief valve set to the test pressure. Never connect a cylinder directly.",
    "Never exceed the limit of the weakest component. Raise the pressure in steps and stay clear of the circuit.",
    "Let the nitrogen off slowly and away from people; air the room, it displaces oxygen.",
)


class PressureVerdict(StrEnum):
    """What the standing test says."""

    TIGHT = "tight"
    LEAKING = "leaking"
    UNDECIDED = "undecided"


class OverLimitError(ValueError):
    """A test pressure above the limit of the weakest component."""


@dataclass(frozen=True, slots=True)
class PressureSetup:
    """What is known beside the samples. None: unknown.

    Attributes:
        barometer: turns a gauge pressure into an absolute one; p / T needs the absolute one.
        wanted_pa_s: smallest fall that must not be missed.
        weakest_pa: limit of the weakest component, gauge pressure, as the user entered it.
    """

    gauge: Gauge
    barometer: Barometer
    wanted_pa_s: float
    volume_m3: Quantity | None = None
    weakest_pa: float | None = None
    drift_u_k: float = DRIFT_U_K


@dataclass(frozen=True, slots=True)
class PressureHold:
    """The result; see `hold_types.Hold` for the names."""

    verdict: PressureVerdict
    duration_s: float
    start_abs_pa: float
    fall_pa: Quantity
    compensated: bool
    thermal_fall_pa: float | None
    slope_pa_s: Quantity
    q_pa_m3_s: Quantity | None
    detection_limit_pa_s: float
    sure_limit_pa_s: float
    limit_q_pa_m3_s: float | None
    finding: Finding = NOTHING_SAID


def check_limit(test_pressure_pa: float, weakest_pa: float | None) -> None:
    """Refuse a test pressure (gauge, Pa) above the weakest component's limit, or without one.

    Raises:
        OverLimitError: it is above, or nobody entered a limit.
    """
    if weakest_pa is None:
        raise OverLimitError("Enter the pressure limit of the weakest component first; it is never assumed.")
    if test_pressure_pa > weakest_pa:
        raise OverLimitError(
            f"The test pressure of {test_pressure_pa / 1e5:.1f} bar is above the {weakest_pa / 1e5:.1f} bar of the "
            "weakest component. Let nitrogen off slowly, or set the regulator lower."
        )


def judge(samples: Sequence[Sample], setup: PressureSetup) -> PressureHold:
    """Judge a standing test; `samples` are gauge pressures (above atmosphere, Pa) in order of time.

    Raises:
        HoldTooShortError: fewer than ten samples, or no time between them.
        OverLimitError: a sample lies above the weakest component's limit.
    """
    if len(samples) < LEAST_SAMPLES or samples[-1].time_s <= samples[0].time_s:
        raise HoldTooShortError(f"a standing test needs {LEAST_SAMPLES} samples or more over some minutes")
    if setup.weakest_pa is not None:
        check_limit(max(s.pressure_pa for s in samples), setup.weakest_pa)
    air = setup.barometer.pressure_pa
    absolute = [Sample(s.time_s, s.pressure_pa + air, s.temperature_k) for s in samples]
    blocks = blocks_of(absolute, setup.gauge, setup.drift_u_k)
    level = blocks.pressures_pa[0]
    seen = _line(blocks)
    fall = -seen.slope_pa_s
    u = _slope_u(seen, blocks.duration_s, setup)
    slope = Quantity(fall, u)
    volume = setup.volume_m3
    verdict = _verdict(fall, seen, setup)
    thermal = level * blocks.warming_k[-1] / blocks.temperature_k if blocks.warming_k else None
    made = PressureHold(
        verdict=verdict,
        duration_s=blocks.duration_s,
        start_abs_pa=level,
        fall_pa=slope.scaled(blocks.duration_s),
        compensated=bool(blocks.warming_k),
        thermal_fall_pa=None if thermal is None else -thermal,
        slope_pa_s=slope,
        q_pa_m3_s=None if volume is None else pv_flow(volume, slope),
        detection_limit_pa_s=seen.limit_pa_s,
        sure_limit_pa_s=seen.sure_limit_pa_s,
        limit_q_pa_m3_s=None if volume is None else volume.value * seen.limit_pa_s,
    )
    return _told(made)


def _line(blocks: Blocks) -> Detection:
    """The slope, what it must exceed, and the falls that would have shown half the time and 95 times in 100."""
    level = sum(blocks.pressures_pa) / len(blocks.pressures_pa)
    made = covariance(blocks, (level,) * len(blocks.pressures_pa))
    for tau_s in COOLS_S:
        warm = [WARM_U_K / blocks.temperature_k * level * math.exp(-t / tau_s) for t in blocks.times_s]
        made = [[a + x * y for a, y in zip(row, warm, strict=True)] for row, x in zip(made, warm, strict=True)]
    errors = Whitener.of(made)
    one = errors.white((1.0,) * len(blocks.times_s))
    found = solve((one, errors.white(blocks.times_s)), errors.white(blocks.pressures_pa))
    if found is None:
        raise HoldTooShortError("the readings all lie within one block of time; let it stand longer")
    slope, sigma = found.coefficients[1], math.sqrt(found.covariance[1][1])
    threshold = 1.5 * blocks.stair_pa / blocks.duration_s + FALSE_ALARM_SIGMA * sigma
    return Detection(slope, sigma, threshold, threshold, threshold + SURE_SIGMA * sigma)


def _slope_u(seen: Detection, duration_s: float, setup: PressureSetup) -> float:
    """Noise and temperature, one rounding at either end, and the span."""
    rounding = setup.gauge.resolution_pa / math.sqrt(6.0) / duration_s
    return math.hypot(seen.sigma_pa_s, rounding, setup.gauge.span_share_u * seen.slope_pa_s)


def _verdict(fall_pa_s: float, seen: Detection, setup: PressureSetup) -> PressureVerdict:
    if fall_pa_s > seen.threshold_pa_s:
        return PressureVerdict.LEAKING
    if seen.sure_limit_pa_s > setup.wanted_pa_s or fall_pa_s < -seen.threshold_pa_s:
        return PressureVerdict.UNDECIDED
    return PressureVerdict.TIGHT


def _told(hold: PressureHold) -> PressureHold:
    proves, then = _said(hold)
    limit = f"{_two_digits(hold.detection_limit_pa_s * 600.0)} in 10 min"
    if hold.limit_q_pa_m3_s is not None:
        limit = f"{hold.limit_q_pa_m3_s:.2g} Pa·m³/s ({limit})"
    reach = f"With this gauge and {duration_text(hold.duration_s)}, no leak below {limit} would have shown."
    vacuum = "It does not prove that the circuit is dry, nor that it holds against refrigerant, which passes otherwise."
    return replace(
        hold,
        finding=Finding(
            measured=_measured(hold),
            proves=proves,
            does_not_prove=(vacuum, reach),
            next=then,
            cautions=CAUTIONS,
        ),
    )


def _measured(hold: PressureHold) -> tuple[str, ...]:
    """The fall, or that there is none. A difference within its doubt is neither a fall nor a rise."""
    brought = "brought to the first temperature" if hold.compensated else "no temperature was measured"
    fall, span = hold.fall_pa, duration_text(hold.duration_s)
    if fall.value > 2.0 * fall.u:
        return (f"In {span} the pressure fell by {pressure_text(fall)} ({brought}).",)
    if fall.value < -2.0 * fall.u:
        return (f"In {span} the pressure rose by {pressure_text(fall.scaled(-1.0))} ({brought}).",)
    return (f"In {span} the pressure stood still to within {_two_digits(2.0 * fall.u)} ({brought}).",)


def _two_digits(pressure_pa: float) -> str:
    return pressure_text(Quantity(float(f"{pressure_pa:.2g}"), 0.0))


def _said(hold: PressureHold) -> tuple[tuple[str, ...], tuple[str, ...]]:
    match hold.verdict:
        case PressureVerdict.LEAKING:
            seek = (
                "Search with foam or a leak detector for the tracer while it is under pressure; then let it off slowly."
            )
            return ("Gas is lost: temperature does not explain the fall.",), (seek,)
        case PressureVerdict.TIGHT:
            size = f"{_two_digits(hold.sure_limit_pa_s * 600.0)} in 10 min"
            proves = f"No leak that makes {size} at this pressure: it would have been seen 95 times in 100."
            return (proves,), ("Let the nitrogen off slowly, then evacuate.",)
        case PressureVerdict.UNDECIDED:
            probe = "" if hold.compensated else " put a thermometer on the circuit,"
            return (), (f"Wait until the temperature is even,{probe} and let it stand longer.",)
