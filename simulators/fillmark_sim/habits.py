"""Bad habits of a scale: a shaking bench, heavy tails, a held indication, a zero that follows, a flag that lies."""

from __future__ import annotations

import math
import random

from fillmark_sim.scenario import Habits


class HabitsModel:
    """What they make of one scale's readings."""

    def __init__(self, data: Habits, rng: random.Random) -> None:
        self._data = data
        self._rng = rng
        self._phase = rng.uniform(0.0, 2.0 * math.pi)
        self._last_s: float | None = None
        self._held_kg: float | None = None

    def tracked_kg(self, change_kg: float, dt_s: float) -> float:
        """What of a change of load within a step (s) is taken for drift of the zero, kg."""
        return change_kg if abs(change_kg) < self._data.tracks_kg_s * dt_s else 0.0

    def seen_kg(self, time_s: float, mass_kg: float) -> float:
        """What is shown for a mass, before it is rounded to a step."""
        return self._held(mass_kg + self._shake_kg(time_s) + self._tail_kg())

    def flag(self, *, stable: bool) -> bool:
        """The no-motion flag as it is sent."""
        return stable if self._data.flag == "honest" else self._data.flag == "always"

    def _shake_kg(self, time_s: float) -> float:
        """An oscillation whose phase wanders: its line has the width of `shake_width_hz`."""
        data = self._data
        if data.shake_kg == 0.0:
            return 0.0
        passed_s = 0.0 if self._last_s is None else time_s - self._last_s
        self._last_s = time_s
        wander = self._rng.gauss(0.0, math.sqrt(2.0 * math.pi * data.shake_width_hz * passed_s))
        self._phase += 2.0 * math.pi * data.shake_hz * passed_s + wander
        return data.shake_kg * math.cos(self._phase)

    def _tail_kg(self) -> float:
        """Student's t with two degrees of freedom: a normal deviate over the root of an exponential one."""
        if self._data.tail_kg == 0.0:
            return 0.0
        return self._data.tail_kg * self._rng.gauss(0.0, 1.0) / math.sqrt(self._rng.expovariate(1.0))

    def _held(self, mass_kg: float) -> float:
        if self._held_kg is None or abs(mass_kg - self._held_kg) >= self._data.holds_kg:
            self._held_kg = mass_kg
        return self._held_kg
