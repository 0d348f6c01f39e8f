"""Unrest: an indication that does not stand on its step, for the bench shakes or a draught blows.

Vibration far faster than the scale reads comes back as a slow wave (it is sampled below its own frequency), which no
averaging over a second takes away. What it is worth is seen in second differences of indications z one to three samples
apart: a steady flow leaves nothing in them, white noise of variance s² has there

    var(z(i) - 2 z(i-L) + z(i-2L)) = 6 s²

and jumps, tugs and the beginning of a flow are few among many, so that their median hardly feels them:

    s = median(abs(differences)) / (0.6745 √6)

The greatest of the lags counts. Of a wave slower than some 8 s little is seen: it cannot be told from a flow that
swings.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import median

EVERY_S = 0.95
KEPT = 40
ENOUGH = 12
JUDGED_EVERY_S = 3.9
LAGS = (1, 2, 3)
SAMPLES_A_LAG = 8
"""A longer lag asks for more samples: a flow that has just begun is bent."""

MEDIAN_OF_NORMAL = 0.6745
"""Median of the absolute value of a standard normal deviate."""

LEAST_STEPS = 1.5
MOST_STEPS = 10.0
MOST_KG = 10e-3
"""Less is the flicker of the last digit, which the step covers; more is no unrest but a pull that comes and goes."""

LEAST_TURNS = 4
"""What shakes goes up and down: a pull bends the indication one way and, once it is there, the other."""

LEAST_RISES = 2
RISELESS_LAGS = 2
"""Nor does a flow make the container heavier, however it pauses and comes back: with a cycling compressor it does so
every ten seconds or so, and the longest lag would take that for unrest."""

ALIKE_S = 1.0


@dataclass(frozen=True, slots=True)
class Unrest:
    """Indications of the last KEPT samples or so, about a second apart, kg; `rms_kg`: what they scatter by.

    `shook`: whether the bench was ever found to shake.
    """

    kept: tuple[float, ...] = ()
    last_s: float = -math.inf
    judged_s: float = -math.inf
    rms_kg: float = 0.0
    shook: bool = False

    def seen(self, time_s: float, indication_kg: float, resolution_kg: float) -> Unrest:
        """The unrest after one more indication."""
        if time_s - self.last_s < EVERY_S:
            return self
        kept = (*self.kept[1 - KEPT :], indication_kg)
        if len(kept) < ENOUGH or time_s - self.judged_s < JUDGED_EVERY_S:
            return replace(self, kept=kept, last_s=time_s)
        least_kg = LEAST_STEPS * resolution_kg
        lags = LAGS if _rises(kept, least_kg) else LAGS[:RISELESS_LAGS]
        rms_kg = max(_scatter_kg(kept, lag, least_kg) for lag in lags if len(kept) >= SAMPLES_A_LAG * lag)
        if rms_kg > most_kg(resolution_kg):
            rms_kg = self.rms_kg
        shakes = rms_kg >= least_kg
        return Unrest(kept, time_s, time_s, rms_kg if shakes else 0.0, shook=self.shook or shakes)

    @property
    def is_seen(self) -> bool:
        """Whether enough was seen to say that there is none."""
        return len(self.kept) >= ENOUGH

    @property
    def is_firm(self) -> bool:
        """Whether the bench was seen long enough, and never found to shake."""
        return self.is_seen and not self.shook

    @property
    def var(self) -> float:
        """Variance that it leaves in a mass at rest, kg²: a slow wave is averaged in part."""
        return self.rms_kg**2 / 2.0

    def alike(self, interval_s: float) -> float:
        """So many readings at this interval say the same: a wave stays where it is for ALIKE_S."""
        return 1.0 if self.rms_kg == 0.0 or interval_s <= 0.0 else max(ALIKE_S / interval_s, 1.0)

    def afresh(self) -> Unrest:
        """The unrest of the same bench, for another container or another flow: it is seen anew, and known till then."""
        return Unrest(rms_kg=self.rms_kg, shook=self.shook)


def most_kg(resolution_kg: float) -> float:
    """The most that counts as unrest, kg."""
    return max(MOST_STEPS * resolution_kg, MOST_KG)


def _scatter_kg(kept: tuple[float, ...], lag: int, least_kg: float) -> float:
    """Root mean square by one lag, kg; 0 where the differences do not change their sign as often as unrest does."""
    seconds = [z - 2.0 * y + x for x, y, z in zip(kept, kept[lag:], kept[2 * lag :], strict=False)]
    up = [second > 0.0 for second in seconds if abs(second) > least_kg]
    if sum(was is not now for was, now in pairwise(up)) < LEAST_TURNS:
        return 0.0
    return median(map(abs, seconds)) / (MEDIAN_OF_NORMAL * math.sqrt(6.0))


def _rises(kept: tuple[float, ...], least_kg: float) -> bool:
    """Whether the indication rises now and then."""
    return any(sum(z - x > least_kg for x, z in zip(kept, kept[lag:], strict=False)) >= LEAST_RISES for lag in LAGS)


NO_UNREST = Unrest()
