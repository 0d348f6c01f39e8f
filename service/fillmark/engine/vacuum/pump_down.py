"""The pull-down: how fast, how deep, how long still, and what holds it back.

* While a pump of constant speed S draws on a volume V that takes in gas Q: V p' = Q - S (p - p_pump), hence
      p = plateau + (p0 - plateau) exp(-t / tau),  tau = V / S_eff,  plateau = p_pump + Q / S_eff
  (any textbook of vacuum technology). Errors are a share MODEL_SHARE_U of the pressure and those of the gauge, so that
  every decade counts alike: a fit on a logarithmic scale that bears readings of zero.
* Through a hose S_eff falls with the pressure (`conductance.py`), so only the part below FROM_PA, or the last
  two decades, is fitted.
* A plateau does not say by itself what feeds it. It is told apart where the data can:
  WET: it stands at water's saturation pressure at the coldest part, or at water's triple point.
  OUTGASSING: it still falls long after the exponential has died away.
  HOSE_THIN, PUMP_SMALL: which of the two takes more of the speed, from their declared sizes.
  SLOWER_THAN_DECLARED: the effective speed is less than half of what pump and hose would give.
  Else it stays open between a leak and the pump's own limit: shut the valve and hold.
* Moisture boils off only while the pressure is below water's saturation pressure at the coldest part.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fillmark.engine.vacuum.algebra import Solution, solve
from fillmark.engine.vacuum.conductance import effective_speed_m3_s
from fillmark.engine.vacuum.finding import Quantity
from fillmark.engine.vacuum.gauge import Gauge
from fillmark.engine.vacuum.pump_types import Cause, PumpDown, PumpDownTooShortError, PumpSetup
from fillmark.engine.vacuum.pump_words import told
from fillmark.engine.vacuum.series import Sample
from fillmark.engine.vacuum.water import TRIPLE_PA, phase_at, saturation_pressure_pa, saturation_temperature_k

MODEL_SHARE_U = 0.03
FROM_PA = 10_000.0
LEAST_SAMPLES = 8
TAU_SHARES = (1e-3, 30.0)
TAU_STEPS = 60
REACHED_TAUS = 3.0
FALLING_SHARE = 0.05
NEAR_WATER_SHARE = 0.2
"""As 3 K of the coldest part are worth. Common practice, no source."""

SLOW_SHARE = 0.5


@dataclass(frozen=True, slots=True)
class _Fit:
    start_s: float
    tau_s: float
    tau_u_s: float
    plateau: Quantity
    amplitude_pa: float

    def dead_at(self, time_s: float) -> bool:
        """Whether what is left of the exponential is less than the plateau's share of error."""
        left = self.amplitude_pa * math.exp(-(time_s - self.start_s) / self.tau_s)
        return left < max(2.0 * MODEL_SHARE_U * self.plateau.value, self.plateau.u)


def judge(samples: Sequence[Sample], setup: PumpSetup) -> PumpDown:
    """Judge a pull-down.

    Raises:
        PumpDownTooShortError: fewer than eight samples below 100 mbar or in the last two decades.
    """
    window = _window(samples)
    if len(window) < LEAST_SAMPLES or window[-1].time_s <= window[0].time_s:
        raise PumpDownTooShortError("too little of a pull-down to judge; go on pumping")
    fit = _fitted(window, setup.gauge)
    now = samples[-1]
    reached = fit.dead_at(now.time_s)
    falling = reached and _falls(window, fit, setup.gauge)
    expected = _expected_speed(setup, max(now.pressure_pa, fit.plateau.value))
    speed = _speed(setup, fit)
    causes, open_causes = _causes(setup, fit, (reached, falling), speed, _expected_speed(setup, _middle_pa(window)))
    made = PumpDown(
        pressure_pa=now.pressure_pa,
        duration_s=now.time_s - samples[0].time_s,
        plateau_pa=fit.plateau,
        plateau_reached=reached,
        falling=falling,
        tau_s=Quantity(fit.tau_s, fit.tau_u_s),
        effective_speed_m3_s=speed,
        expected_speed_m3_s=expected,
        to_target_s=_to_target(setup, fit, now),
        target_in_reach=_in_reach(setup, fit, now, falling=falling),
        boils=_boils(setup, now.pressure_pa),
        boils_below_k=_boiling_k(now.pressure_pa),
        water_phase=phase_at(now.pressure_pa),
        causes=causes,
        open_causes=open_causes,
    )
    return told(made, setup)


def _window(samples: Sequence[Sample]) -> Sequence[Sample]:
    lowest = min((s.pressure_pa for s in samples), default=0.0)
    limit = max(FROM_PA, 3.0 * lowest)
    below = [i for i, s in enumerate(samples) if s.pressure_pa <= limit]
    return samples[below[0] :] if below else samples


def _middle_pa(window: Sequence[Sample]) -> float:
    first, last = max(window[0].pressure_pa, 1.0), max(window[-1].pressure_pa, 1.0)
    return math.sqrt(first * last)


def _fitted(window: Sequence[Sample], gauge: Gauge) -> _Fit:
    span = window[-1].time_s - window[0].time_s
    low, high = (math.log(span * share) for share in TAU_SHARES)
    grid = [low + (high - low) * i / TAU_STEPS for i in range(TAU_STEPS + 1)]
    sums = [_at(window, gauge, math.exp(x))[0] for x in grid]
    best = min(range(len(grid)), key=lambda i: sums[i])
    left, right = grid[max(best - 1, 0)], grid[min(best + 1, TAU_STEPS)]
    for _ in range(24):
        a, b = left + 0.382 * (right - left), left + 0.618 * (right - left)
        if _at(window, gauge, math.exp(a))[0] < _at(window, gauge, math.exp(b))[0]:
            right = b
        else:
            left = a
    x = (left + right) / 2.0
    chi2, found = _at(window, gauge, math.exp(x))
    step = 0.05
    bend = (
        _at(window, gauge, math.exp(x - step))[0] + _at(window, gauge, math.exp(x + step))[0] - 2.0 * chi2
    ) / step**2
    excess = max(chi2 / max(len(window) - 3, 1), 1.0)
    tau_u = math.exp(x) * math.sqrt(2.0 * excess / bend) if bend > 1e-9 else math.inf
    if found is None:
        level = window[-1].pressure_pa
        return _Fit(window[0].time_s, math.exp(x), math.inf, Quantity(level, level), 0.0)
    plateau = Quantity(max(found.coefficients[0], 0.0), math.sqrt(found.covariance[0][0] * excess))
    return _Fit(window[0].time_s, math.exp(x), tau_u, plateau, found.coefficients[1])


def _at(window: Sequence[Sample], gauge: Gauge, tau_s: float) -> tuple[float, Solution | None]:
    """Sum of squares and coefficients (plateau, amplitude) with this time constant."""
    start = window[0].time_s
    sigmas = [math.hypot(MODEL_SHARE_U * s.pressure_pa, gauge.reading_u_pa) for s in window]
    one = tuple(1.0 / u for u in sigmas)
    fading = tuple(math.exp(-(s.time_s - start) / tau_s) / u for s, u in zip(window, sigmas, strict=True))
    values = tuple(s.pressure_pa / u for s, u in zip(window, sigmas, strict=True))
    found = solve((one, fading), values)
    if found is None:
        return math.inf, None
    if found.coefficients[0] < 0.0:
        alone = solve((fading,), values)
        if alone is None:
            return math.inf, None
        made = Solution((0.0, alone.coefficients[0]), found.covariance, alone.chi2)
        return made.chi2, made
    return found.chi2, found


def _falls(window: Sequence[Sample], fit: _Fit, gauge: Gauge) -> bool:
    """Whether the plateau sinks: first third of it against its last third."""
    flat = [s.pressure_pa for s in window if fit.dead_at(s.time_s)]
    third = len(flat) // 3
    if third < 3:
        return False
    early, late = sum(flat[:third]) / third, sum(flat[-third:]) / third
    return early - late > max(1.5 * gauge.resolution_pa, FALLING_SHARE * late)


def _speed(setup: PumpSetup, fit: _Fit) -> Quantity | None:
    if setup.volume_m3 is None:
        return None
    speed = setup.volume_m3.value / fit.tau_s
    return Quantity(speed, speed * math.hypot(setup.volume_m3.u / setup.volume_m3.value, fit.tau_u_s / fit.tau_s))


def _expected_speed(setup: PumpSetup, pressure_pa: float) -> float | None:
    if setup.speed_m3_s is None or setup.hose is None:
        return None
    return effective_speed_m3_s(setup.speed_m3_s, setup.hose.bore_m, setup.hose.length_m, max(pressure_pa, 1.0))


def _to_target(setup: PumpSetup, fit: _Fit, now: Sample) -> float | None:
    if setup.target_pa is None:
        return None
    if now.pressure_pa <= setup.target_pa:
        return 0.0
    if setup.target_pa <= fit.plateau.value:
        return None
    above = max(now.pressure_pa - fit.plateau.value, 1e-9)
    return max(fit.tau_s * math.log(above / (setup.target_pa - fit.plateau.value)), 0.0)


def _in_reach(setup: PumpSetup, fit: _Fit, now: Sample, *, falling: bool) -> bool | None:
    if setup.target_pa is None:
        return None
    if now.pressure_pa <= setup.target_pa or fit.plateau.value + 2.0 * fit.plateau.u < setup.target_pa:
        return True
    if falling or fit.plateau.value - 2.0 * fit.plateau.u < setup.target_pa:
        return None
    return False


def _causes(
    setup: PumpSetup, fit: _Fit, flat: tuple[bool, bool], speed: Quantity | None, expected: float | None
) -> tuple[tuple[Cause, ...], tuple[Cause, ...]]:
    reached, falling = flat
    causes: list[Cause] = []
    left_open: list[Cause] = []
    if expected is not None and setup.speed_m3_s is not None:
        limited = expected < SLOW_SHARE * setup.speed_m3_s
        if speed is not None and speed.value + 2.0 * speed.u < SLOW_SHARE * expected:
            causes.append(Cause.SLOWER_THAN_DECLARED)
        elif not reached or not _deep_enough(setup, fit):
            causes.append(Cause.HOSE_THIN if limited else Cause.PUMP_SMALL)
    elif not reached:
        left_open += [Cause.HOSE_THIN, Cause.PUMP_SMALL]
    if reached and not _deep_enough(setup, fit):
        wet = _at_water(setup, fit.plateau)
        causes += [Cause.WET] if wet else []
        causes += [Cause.OUTGASSING] if falling and not wet else []
        if not (wet or falling):
            left_open += [Cause.LEAKING, Cause.PUMP_LIMIT]
            left_open += [Cause.WET] if setup.coldest_k is None else []
    return tuple(causes), tuple(left_open)


def _deep_enough(setup: PumpSetup, fit: _Fit) -> bool:
    return setup.target_pa is not None and fit.plateau.value <= setup.target_pa


def _at_water(setup: PumpSetup, plateau: Quantity) -> bool:
    ceilings = [TRIPLE_PA] if setup.coldest_k is None or setup.coldest_k > 273.16 else []
    ceilings += [] if setup.coldest_k is None else [saturation_pressure_pa(setup.coldest_k)]
    slack = 2.0 * math.hypot(plateau.u, setup.gauge.resolution_pa / math.sqrt(12.0))
    return any(
        abs(plateau.value - ceiling) <= NEAR_WATER_SHARE * ceiling and slack <= NEAR_WATER_SHARE * ceiling
        for ceiling in ceilings
    )


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
