"""The pull-down: how fast, how deep, how long still, and what holds it back.

* While a pump of constant speed S draws on a volume V that takes in gas Q: V p' = Q - S (p - p_pump), hence
      p = plateau + (p0 - plateau) exp(-t / tau),  tau = V / S_eff,  plateau = p_pump + Q / S_eff
  (any textbook of vacuum technology). Errors are a share MODEL_SHARE_U of the pressure and those of the gauge, so that
  every decade counts alike: a fit on a logarithmic scale that bears readings of zero.
* Through a hose S_eff falls with the pressure (`conductance.py`), so only the last decade is fitted.
* **Speed** is judged where air is all there is to pump, between 3 and 60 kPa: V d(ln p)/dt against what pump and hose
  would give by their declared sizes. Less than half of it: SLOWER_THAN_DECLARED.
* **Gas load** is judged at the end: Q = S (p - p_pump) + V p'. S has an uncertainty of LOAD_SHARE_U. If less than half
  of what is pumped comes from emptying the volume, something else feeds it.
* A plateau or a load does not say by itself what feeds it. It is told apart where the data can:
  WET: it stands at water's saturation pressure at the coldest part, or at water's triple point.
  OUTGASSING: there is a load, and it fades.
  HOSE_THIN, PUMP_SMALL: which of the two takes more of the speed, while the target is not reached.
  What is left stays open: shut the valve and hold.
* Moisture boils off only while the pressure is below water's saturation pressure at the coldest part.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fillmark.engine.quantity import Quantity
from fillmark.engine.vacuum.algebra import Solution, solve
from fillmark.engine.vacuum.conductance import effective_speed_m3_s
from fillmark.engine.vacuum.gauge import Gauge
from fillmark.engine.vacuum.pump_types import Cause, PumpDown, PumpDownTooShortError, PumpSetup
from fillmark.engine.vacuum.pump_words import told
from fillmark.engine.vacuum.series import Sample
from fillmark.engine.vacuum.water import TRIPLE_PA, phase_at, saturation_pressure_pa, saturation_temperature_k

MODEL_SHARE_U = 0.03
LOAD_SHARE_U = 0.3
"""Of a speed worked out from a pump's plate and a hose's size. Common practice, no source."""

AIR_PA = (3_000.0, 60_000.0)
LAST_SHARE = 0.2
DECADE = 10.0
LEAST_SAMPLES = 8
LEAST_AIR_SAMPLES = 4
TAU_SHARES = (1e-3, 30.0)
TAU_STEPS = 60
FALLING_SHARE = 0.05
FADING_SHARE = 0.15
"""A leak does not fade; a load that falls by so much from one fifth of the time to the next is vapour."""

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


@dataclass(frozen=True, slots=True)
class _Seen:
    """What was worked out before the causes are looked for."""

    fit: _Fit
    reached: bool
    falling: bool
    air_speed: Quantity | None
    air_expected: float | None
    load: Quantity | None
    throughput: float | None
    fading: bool


def judge(samples: Sequence[Sample], setup: PumpSetup) -> PumpDown:
    """Judge a pull-down.

    Raises:
        PumpDownTooShortError: fewer than eight samples in the last decade.
    """
    window = _window(samples, setup.gauge)
    if len(window) < LEAST_SAMPLES or window[-1].time_s <= window[0].time_s:
        raise PumpDownTooShortError("too little of a pull-down to judge; go on pumping")
    fit, now = _fitted(window, setup.gauge), samples[-1]
    reached = fit.dead_at(now.time_s)
    falling = reached and _falls(window, fit, setup.gauge)
    air_speed, air_expected = _air_speed(samples, setup)
    share = 1.0 if air_speed is None or air_expected is None else min(max(air_speed.value / air_expected, 0.2), 1.2)
    load, throughput = _load(samples, setup, share)
    before, _ = _load(samples, setup, share, LAST_SHARE)
    fading = before is not None and load is not None and before.value - load.value > FADING_SHARE * before.value
    seen = _Seen(fit, reached, falling, air_speed, air_expected, load, throughput, fading)
    causes, open_causes = _causes(setup, seen, now)
    made = PumpDown(
        pressure_pa=now.pressure_pa,
        duration_s=now.time_s - samples[0].time_s,
        plateau_pa=fit.plateau,
        plateau_reached=reached,
        falling=falling,
        tau_s=Quantity(fit.tau_s, fit.tau_u_s),
        effective_speed_m3_s=_speed(setup, fit),
        air_speed_m3_s=air_speed,
        expected_speed_m3_s=_expected_speed(setup, now.pressure_pa),
        gas_load_pa_m3_s=load,
        to_target_s=_to_target(setup, fit, now),
        target_in_reach=_in_reach(setup, fit, now, falling=falling),
        boils=_boils(setup, now.pressure_pa),
        boils_below_k=_boiling_k(now.pressure_pa),
        water_phase=phase_at(now.pressure_pa),
        causes=causes,
        open_causes=open_causes,
    )
    return told(made, setup)


def _window(samples: Sequence[Sample], gauge: Gauge) -> Sequence[Sample]:
    """From where the pressure last was a decade above its lowest."""
    lowest = max(min((s.pressure_pa for s in samples), default=0.0), 3.0 * gauge.resolution_pa)
    above = [i for i, s in enumerate(samples) if s.pressure_pa > DECADE * lowest]
    return samples[above[-1] + 1 :] if above else samples


def _air_speed(samples: Sequence[Sample], setup: PumpSetup) -> tuple[Quantity | None, float | None]:
    """Speed while air is pumped, and what it should be there."""
    low, high = max(AIR_PA[0], 10.0 * setup.gauge.resolution_pa), AIR_PA[1]
    part = [s for s in samples if low <= s.pressure_pa <= high]
    if setup.volume_m3 is None or len(part) < LEAST_AIR_SAMPLES or part[0].pressure_pa < 2.0 * part[-1].pressure_pa:
        return None, None
    slope, u = _line([s.time_s for s in part], [math.log(s.pressure_pa) for s in part])
    volume = setup.volume_m3
    speed = -slope * volume.value
    middle = math.sqrt(part[0].pressure_pa * part[-1].pressure_pa)
    found = Quantity(speed, math.hypot(u * volume.value, speed * volume.u / volume.value))
    return found, _expected_speed(setup, middle)


def _load(
    samples: Sequence[Sample], setup: PumpSetup, share: float, back: float = 0.0
) -> tuple[Quantity | None, float | None]:
    """Gas that comes in at the end, or `back` of the whole time before, and all that is pumped there, Pa m³/s."""
    whole = samples[-1].time_s - samples[0].time_s
    end = samples[-1].time_s - back * whole
    last = [s for s in samples if end - LAST_SHARE * whole <= s.time_s <= end]
    if setup.volume_m3 is None or setup.ultimate_pa is None or len(last) < LEAST_SAMPLES:
        return None, None
    level = sum(s.pressure_pa for s in last) / len(last)
    speed = _expected_speed(setup, level)
    if speed is None:
        return None, None
    slope, u = _line([s.time_s for s in last], [s.pressure_pa for s in last])
    volume = setup.volume_m3.value
    pumped = speed * share * max(level - setup.ultimate_pa, 0.0)
    error = math.hypot(LOAD_SHARE_U * pumped, volume * u, speed * share * setup.gauge.reading_u_pa)
    return Quantity(pumped + volume * slope, error), pumped


def _line(times: Sequence[float], values: Sequence[float]) -> tuple[float, float]:
    """Slope of a straight line and its standard uncertainty."""
    count = len(times)
    middle, level = sum(times) / count, sum(values) / count
    spread = sum((t - middle) ** 2 for t in times)
    slope = sum((t - middle) * (v - level) for t, v in zip(times, values, strict=True)) / spread
    left = sum((v - level - slope * (t - middle)) ** 2 for t, v in zip(times, values, strict=True))
    return slope, math.sqrt(left / max(count - 2, 1) / spread)


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


def _causes(setup: PumpSetup, seen: _Seen, now: Sample) -> tuple[tuple[Cause, ...], tuple[Cause, ...]]:
    causes: list[Cause] = []
    left_open: list[Cause] = []
    slow = _slower(seen)
    causes += [Cause.SLOWER_THAN_DECLARED] if slow else []
    if setup.target_pa is not None and now.pressure_pa <= setup.target_pa:
        return tuple(causes), ()
    wet = seen.reached and _at_water(setup, seen.fit.plateau)
    fed = _fed(seen)
    causes += [Cause.WET] if wet else []
    if fed and not wet:
        causes += [Cause.OUTGASSING] if seen.fading else []
        left_open += [] if seen.fading else [Cause.LEAKING, Cause.WET, Cause.OUTGASSING]
    elif not wet:
        pace = _pace(setup, now)
        causes += [pace] if pace is not None and not slow else []
        left_open += [Cause.HOSE_THIN, Cause.PUMP_SMALL] if pace is None else []
        if seen.reached and fed is None:
            left_open += [Cause.OUTGASSING] if seen.falling else [Cause.LEAKING, Cause.WET, Cause.PUMP_LIMIT]
    return tuple(causes), tuple(left_open)


def _slower(seen: _Seen) -> bool:
    if seen.air_speed is None or seen.air_expected is None:
        return False
    return seen.air_speed.value + 2.0 * seen.air_speed.u < SLOW_SHARE * seen.air_expected


def _fed(seen: _Seen) -> bool | None:
    """Whether more than half of what is pumped comes in from somewhere. None: pump, hose or volume are not declared."""
    if seen.load is None or seen.throughput is None:
        return None
    return seen.load.value > SLOW_SHARE * seen.throughput and seen.load.value > 2.0 * seen.load.u


def _pace(setup: PumpSetup, now: Sample) -> Cause | None:
    expected = _expected_speed(setup, now.pressure_pa)
    if expected is None or setup.speed_m3_s is None:
        return None
    return Cause.HOSE_THIN if expected < SLOW_SHARE * setup.speed_m3_s else Cause.PUMP_SMALL


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
