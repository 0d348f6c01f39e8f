"""The pull-down: how fast, how deep, how long still, and what holds it back.

* The end is fitted (`pull_fit.py`): a plateau, and how fast what is left above it dies away.
* **Speed**: V k near the plateau, V d(ln p)/dt in air between 3 and 60 kPa. Pump and hose in series would give the
  speed of `conductance.py` by their declared sizes.
* A plateau is reached when what is left above it is less than REACHED_SHARE of it, or than the gauge shows.
* What holds it up or back is told apart by `pump_causes.py`, where the data can; what is left stays open.
* The target is out of reach only where a cause is named that does not go away by pumping: moisture does.
* Moisture boils off only while the pressure is below water's saturation pressure at the coldest part.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from fillmark.engine.quantity import Quantity
from fillmark.engine.vacuum.conductance import effective_speed_m3_s
from fillmark.engine.vacuum.gauge import Gauge
from fillmark.engine.vacuum.pull_fit import PullFit, fitted
from fillmark.engine.vacuum.pump_causes import STEADY_CAUSES, Evidence, causes_of
from fillmark.engine.vacuum.pump_types import Cause, PumpDown, PumpDownTooShortError, PumpSetup
from fillmark.engine.vacuum.pump_words import told
from fillmark.engine.vacuum.series import Sample
from fillmark.engine.vacuum.water import phase_at, saturation_pressure_pa, saturation_temperature_k

AIR_PA = (3_000.0, 60_000.0)
SPAN = 5.0
"""Only from so many times the lowest pressure on is fitted: higher up the speed bends away from the line."""

LEAST_SAMPLES = 8
LEAST_AIR_SAMPLES = 4
REACHED_SHARE = 0.04
EXTRAPOLATED_SHARE = 0.5
"""A plateau that is still far away is guessed: so much of the way is its uncertainty. Common practice, no source."""

LOWERED_U = 0.5
"""The fit puts a plateau that is still far away too high, for the speed bends. Adjusted on simulated pull-downs."""

FORESEEN_SHARE = 0.25
"""How far down a time is foretold. Common practice, no source."""

ZERO_STEPS = 1.0
"""A gauge's zero may be off by up to so many steps. Assumed, no source."""

STILL_SHARE = 0.01
SINKS_SHARE = 0.02
SINKS_SIGMA = 4.0
"""A plateau that sinks by more than both is not held by a steady leak."""


def judge(samples: Sequence[Sample], setup: PumpSetup) -> PumpDown:
    """Judge a pull-down.

    Raises:
        PumpDownTooShortError: fewer than eight samples near the end.
    """
    window = _window(samples, setup.gauge)
    if len(window) < LEAST_SAMPLES or window[-1].time_s <= window[0].time_s:
        raise PumpDownTooShortError("too little of a pull-down to judge; go on pumping")
    fit, now = fitted(window, setup.gauge), samples[-1]
    left = fit.left_pa(now.time_s)
    reached = left < max(REACHED_SHARE * fit.plateau.value, setup.gauge.reading_u_pa)
    plateau = Quantity(fit.plateau.value, math.hypot(fit.plateau.u, EXTRAPOLATED_SHARE * max(left, 0.0)))
    air_speed, air_expected = _air_speed(samples, setup)
    seen = Evidence(
        pressure_pa=now.pressure_pa,
        plateau=Quantity(plateau.value, math.hypot(plateau.u, ZERO_STEPS * setup.gauge.resolution_pa / math.sqrt(3.0))),
        reached=reached,
        sinks=reached and _sinks(window, fit, setup.gauge),
        speed=_speed(setup, fit, now.pressure_pa),
        expected_m3_s=_expected_speed(setup, now.pressure_pa),
        air_speed=air_speed,
        air_expected_m3_s=air_expected,
        laminar=fit.bend_pa < now.pressure_pa,
    )
    causes, open_causes = causes_of(setup, seen)
    made = PumpDown(
        pressure_pa=now.pressure_pa,
        duration_s=now.time_s - samples[0].time_s,
        plateau_pa=plateau,
        plateau_reached=reached,
        falling=seen.sinks,
        tau_s=Quantity(1.0 / fit.rate.value, fit.rate.u / fit.rate.value**2),
        effective_speed_m3_s=_speed(setup, fit, plateau.value),
        air_speed_m3_s=air_speed,
        expected_speed_m3_s=seen.expected_m3_s,
        gas_load_pa_m3_s=seen.load(setup),
        to_target_s=_to_target(setup, fit, now, plateau),
        target_in_reach=_in_reach(setup, plateau, now, causes),
        boils=_boils(setup, now.pressure_pa),
        boils_below_k=_boiling_k(now.pressure_pa),
        water_phase=phase_at(now.pressure_pa),
        causes=causes,
        open_causes=open_causes,
    )
    return told(made, setup)


def _window(samples: Sequence[Sample], gauge: Gauge) -> Sequence[Sample]:
    """From where the pressure last was SPAN times its lowest."""
    lowest = max(min((s.pressure_pa for s in samples), default=0.0), 3.0 * gauge.resolution_pa)
    above = [i for i, s in enumerate(samples) if s.pressure_pa > SPAN * lowest]
    return samples[above[-1] + 1 :] if above else samples


def _air_speed(samples: Sequence[Sample], setup: PumpSetup) -> tuple[Quantity | None, float | None]:
    """Speed while air is pumped, and what it should be there."""
    # Nearer to the plateau it is no longer emptying alone that is seen.
    lowest = min(s.pressure_pa for s in samples)
    low, high = max(AIR_PA[0], 10.0 * setup.gauge.resolution_pa, SPAN * lowest), AIR_PA[1]
    part = [s for s in samples if low <= s.pressure_pa <= high]
    if setup.volume_m3 is None or len(part) < LEAST_AIR_SAMPLES or part[0].pressure_pa < 2.0 * part[-1].pressure_pa:
        return None, None
    slope, u = _line([s.time_s for s in part], [math.log(s.pressure_pa) for s in part])
    volume = setup.volume_m3
    speed = -slope * volume.value
    middle = math.sqrt(part[0].pressure_pa * part[-1].pressure_pa)
    found = Quantity(speed, math.hypot(u * volume.value, speed * volume.u / volume.value))
    return found, _expected_speed(setup, middle)


def _line(times: Sequence[float], values: Sequence[float]) -> tuple[float, float]:
    """Slope of a straight line and its standard uncertainty."""
    count = len(times)
    middle, level = sum(times) / count, sum(values) / count
    spread = sum((t - middle) ** 2 for t in times)
    slope = sum((t - middle) * (v - level) for t, v in zip(times, values, strict=True)) / spread
    left = sum((v - level - slope * (t - middle)) ** 2 for t, v in zip(times, values, strict=True))
    return slope, math.sqrt(left / max(count - 2, 1) / spread)


def _sinks(window: Sequence[Sample], fit: PullFit, gauge: Gauge) -> bool:
    """Whether the plateau itself sinks: its first third against its last third."""
    flat = [s.pressure_pa for s in window if fit.left_pa(s.time_s) < STILL_SHARE * fit.plateau.value]
    third = len(flat) // 3
    if third < 3:
        return False
    early, late = sum(flat[:third]) / third, sum(flat[-third:]) / third
    noise = gauge.reading_u_pa * math.sqrt(2.0 / third)
    return early - late > max(SINKS_SIGMA * noise, SINKS_SHARE * late, 0.5 * gauge.resolution_pa)


def _speed(setup: PumpSetup, fit: PullFit, pressure_pa: float) -> Quantity | None:
    """Speed at the circuit at a pressure, as the fit has it."""
    if setup.volume_m3 is None:
        return None
    p1, p2 = fit.plateau.value, fit.bend_pa
    speed = setup.volume_m3.value * fit.rate.value * (max(pressure_pa, p1) + p2) / (p1 + p2)
    return Quantity(speed, speed * math.hypot(setup.volume_m3.u / setup.volume_m3.value, fit.rate.u / fit.rate.value))


def _expected_speed(setup: PumpSetup, pressure_pa: float) -> float | None:
    if setup.speed_m3_s is None or setup.hose is None:
        return None
    return effective_speed_m3_s(setup.speed_m3_s, setup.hose.bore_m, setup.hose.length_m, max(pressure_pa, 1.0))


def _to_target(setup: PumpSetup, fit: PullFit, now: Sample, plateau: Quantity) -> float | None:
    """Time still needed; None: unknown, or never like this."""
    if setup.target_pa is None:
        return None
    if now.pressure_pa <= setup.target_pa:
        return 0.0
    lower = Quantity(max(plateau.value - LOWERED_U * plateau.u, min(setup.ultimate_pa or 0.0, plateau.value)), 0.0)
    if setup.target_pa <= max(lower.value, FORESEEN_SHARE * now.pressure_pa):
        return None
    return replace(fit, plateau=lower).time_until_s(now.pressure_pa, setup.target_pa)


def _in_reach(setup: PumpSetup, plateau: Quantity, now: Sample, causes: tuple[Cause, ...]) -> bool | None:
    if setup.target_pa is None:
        return None
    if now.pressure_pa <= setup.target_pa or plateau.value + 2.0 * plateau.u < setup.target_pa:
        return True
    stays = any(cause in STEADY_CAUSES for cause in causes)
    return False if stays and plateau.value - 2.0 * plateau.u > setup.target_pa else None


def _boils(setup: PumpSetup, pressure_pa: float) -> bool | None:
    """None: no temperature, or within the gauge's error."""
    if setup.coldest_k is None:
        return None
    ceiling, u = saturation_pressure_pa(setup.coldest_k), setup.gauge.reading_u_pa
    if abs(pressure_pa - ceiling) <= 2.0 * u:
        return None
    return pressure_pa < ceiling


def _boiling_k(pressure_pa: float) -> float | None:
    return saturation_temperature_k(pressure_pa) if pressure_pa >= 1e-3 else None
