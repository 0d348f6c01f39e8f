"""Why a flow has left its pace and come back to it: the pressure that it works against tells.

A flow of vapour at one temperature, through a given hose or opening, goes with the container's pressure p and the
circuit's q as

    √(p² - q²)

and that of a liquid, as √(p - q), changes more. So where q has moved to q', a share of 1 - √((p² - q'²) / (p² - q²)) of
the flow is missing for that at least. While the compressor runs:

| q | then |
|---|---|
| has risen so far that half of what is missing is explained | the flow has paused |
| stands still | it has not paused: something leans on the pan |
| has risen less, or fallen | unknown: it may have been throttled, and the compressor drew the circuit down |

and the other way round for what has come too much. A compressor that stands draws nothing down, and a gauge that stands
on one digit, or has coarse ones, shows nothing: then nobody knows. Isothermal and incompressible flow (any textbook of
fluid mechanics); the shares are judged.

The time in question is cut into thirds, and their means are compared: readings are noisy, and a compressor that has
stopped and started again shows in the middle.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

KEPT_S = 30.0
EVERY_S = 0.4
THIRDS = 3

EXPLAINED_SHARE = 0.5
STILL_SHARE = 0.008
"""So far, as a share of what drives the flow, a pressure has not moved."""


@dataclass(frozen=True, slots=True)
class Pressures:
    """Absolute pressures of the side that is filled, (s, Pa), of the last KEPT_S, EVERY_S apart, oldest first."""

    readings: tuple[tuple[float, float], ...] = ()

    def read(self, time_s: float, pressure_pa: float) -> Pressures:
        """The same after one more reading."""
        if self.readings and time_s - self.readings[-1][0] < EVERY_S:
            return self
        kept = tuple(one for one in self.readings if time_s - one[0] <= KEPT_S)
        return Pressures((*kept, (time_s, pressure_pa)))

    def leant_on(self, from_s: float, to_s: float, container_pa: float, missing: float) -> bool | None:
        """Whether something leant on the pan between two times, s, where the flow itself did not change. None: unknown.

        `missing`: share of the flow that seems not to have come; below 0, what has come too much.
        """
        third_s = (to_s - from_s) / THIRDS
        means = [self._mean(from_s + third * third_s, from_s + (third + 1) * third_s) for third in range(THIRDS)]
        before_pa = means[0]
        still_pa = STILL_SHARE * (container_pa - before_pa)
        if any(map(math.isnan, means)) or not 0.0 < self._digit_pa(from_s, to_s) <= still_pa:
            return None
        against_pa = max(means) if missing > 0.0 else min(means)
        left = math.sqrt(max(container_pa**2 - against_pa**2, 0.0) / (container_pa**2 - before_pa**2))
        if abs(1.0 - left) >= EXPLAINED_SHARE * abs(missing):
            return False
        return True if all(abs(mean - before_pa) <= still_pa for mean in means) else None

    def _digit_pa(self, from_s: float, to_s: float) -> float:
        """The least by which readings between two times differ, Pa: the gauge's digit, or more; 0 where none do."""
        read = sorted(pressure for time_s, pressure in self.readings if from_s <= time_s <= to_s)
        return min((more - less for less, more in pairwise(read) if more > less), default=0.0)

    def _mean(self, from_s: float, to_s: float) -> float:
        """Mean of the readings between two times, Pa; not a number where there is none."""
        read = [pressure for time_s, pressure in self.readings if from_s <= time_s <= to_s]
        return sum(read) / len(read) if read else math.nan


NONE_READ = Pressures()
