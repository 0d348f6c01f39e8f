"""Scale and probes: what is shown of what is true.

The scale follows its load with a first-order lag, is not quite linear, drifts, is noisy, and shows whole divisions.
Above its capacity it pins at nine divisions over (OIML R 76-1 lets nothing be indicated beyond Max + 9 e).
"""

from __future__ import annotations

import math
import random
from collections import deque

from fillmark_sim.habits import HabitsModel
from fillmark_sim.scenario import Probes, Scale

STABLE_FOR_S = 1.0


def to_step(value: float, step: float) -> float:
    """The nearest whole number of steps, without the float's tail."""
    return round(round(value / step) * step, 6)


class ScaleModel:
    """State of one scale."""

    def __init__(self, data: Scale, rng: random.Random) -> None:
        self.data = data
        self._rng = rng
        self._follows_kg = data.rest_kg
        self._zero_kg = 0.0
        self._habits = None if data.habits is None else HabitsModel(data.habits, rng)
        self._age_s = 0.0
        self._shown: deque[tuple[float, float]] = deque()
        self._drift_per_s = rng.uniform(-1.0, 1.0) * data.drift_kg_per_h / 3600.0

    def load(self, dt_s: float, load_kg: float) -> None:
        """Follow the load (kg) for one step."""
        self._age_s += dt_s
        change_kg = (load_kg - self._follows_kg) * (1.0 - math.exp(-dt_s / self.data.settling_s))
        self._follows_kg += change_kg
        if self._habits is not None:
            self._zero_kg += self._habits.tracked_kg(change_kg, dt_s)

    def rezero(self) -> None:
        """Switched on again: what stands on the pan is zero now."""
        self._zero_kg = self._follows_kg

    def read(self, time_s: float) -> tuple[float, bool]:
        """What the display shows: mass (kg) and the no-motion flag."""
        data = self.data
        true = self._follows_kg + self._nonlinear_kg() - self._zero_kg + self._drift_per_s * self._age_s
        seen = true + self._rng.gauss(0.0, data.noise_kg)
        if self._habits is not None:
            seen = self._habits.seen_kg(time_s, seen)
        shown = to_step(seen, data.resolution_kg)
        most = data.capacity_kg + 9.0 * data.resolution_kg
        shown = min(shown, round(most, 6))
        self._shown.append((time_s, shown))
        while self._shown[0][0] < time_s - STABLE_FOR_S - 1e-6:
            self._shown.popleft()
        values = [value for _, value in self._shown]
        covers = self._shown[-1][0] - self._shown[0][0] >= 0.7 * STABLE_FOR_S
        stable = covers and max(values) - min(values) <= 1.01 * data.resolution_kg and shown < most
        return shown, stable if self._habits is None else self._habits.flag(stable=stable)

    def _nonlinear_kg(self) -> float:
        data = self.data
        if data.bow_kg == 0.0:
            return data.gain_error * self._follows_kg
        wave = math.sin(4.0 * math.pi * self._follows_kg / data.capacity_kg)
        return data.gain_error * self._follows_kg + data.bow_kg * wave


class Probe:
    """A sensor with lag, noise and resolution. Any unit."""

    def __init__(self, rng: random.Random, *, lag_s: float, noise: float, step: float) -> None:
        self._rng = rng
        self._lag_s = lag_s
        self._noise = noise
        self._step = step
        self._value: float | None = None
        self._last_s = 0.0

    def read(self, time_s: float, true: float) -> float:
        """What the probe shows now; it has followed since the last reading."""
        if self._value is None or self._lag_s <= 0.0:
            self._value = true
        else:
            self._value += (true - self._value) * (1.0 - math.exp(-(time_s - self._last_s) / self._lag_s))
        self._last_s = time_s
        return to_step(self._value + self._rng.gauss(0.0, self._noise), self._step)


def pressure_probe(data: Probes, rng: random.Random) -> Probe:
    """A pressure transducer: fast."""
    return Probe(rng, lag_s=0.3, noise=data.pressure_noise_pa, step=data.pressure_step_pa)


def clamp_probe(data: Probes, rng: random.Random) -> Probe:
    """A clamp on a pipe: slow."""
    return Probe(rng, lag_s=data.clamp_lag_s, noise=data.temperature_noise_k, step=0.1)
