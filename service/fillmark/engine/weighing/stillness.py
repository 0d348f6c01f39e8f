"""Stillness: what is known of the indication of a container that stands shut.

* *Flicker.* An indication z is the load, rounded to the scale's step r, with the scale's own noise in it. The noise is
  seen in second differences, in which drift leaves nothing and a scale that comes to rest little; white noise of
  variance s² has six times that in them:

      s² = Σ (z(i) - 2 z(i-1) + z(i-2))² / 6n                                                                (1)

  One indication is known to r²/12 (rounding: GUM F.2.2.1, rectangular) and s². Until READINGS differences were seen, as
  much again is taken for the rest of them. Refrigerant that boils and a compressor that pulses make the noise of a
  running flow another one: (1) is not used for it.

* *Rounding.* A load that stands still is rounded the same way each time, and no averaging helps. But where the last
  digit flickers between k and k + 1 with the shares 1 - p and p, so that s² = p (1 - p) r², noise has told more. The
  less noise, the nearer the load is to the boundary k + 1/2; the more, up to 0.4 r, the nearer to the mean k + p: a
  part t of the way. Little noise makes few loads flicker and much makes many, so that t has the density 2t, and the
  mean is off by (1 - t) |p - 1/2| r, one way:

      u² = (p - 1/2)² r² ∫ 2t (1 - t)² dt = (p - 1/2)² r² / 6 = r²/24 - s²/6                                 (2)

  A digit that stands is known to r²/12, and one that changed once has not flickered: u² is r²/12 - s² at least. But
  where another load made it flicker, with s² of its own, one that stands now is far from the boundaries.

* *The scale's own word.* A hand that has just turned a valve may still pull at the hose. A scale that says "no motion"
  (stable equilibrium, OIML R 76-1:2006 4.4.2, from memory: no more than two neighbouring indications) says that it has
  let go. A flag that was never seen to fall is stuck, or means something else; one from before the hand came, or an old
  one, says nothing of now.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

READINGS = 8.0
MOST_STEPS = 4.5
"""What lies further from where the readings before lead to is no flicker."""

FRESH_S = 3.0


@dataclass(frozen=True, slots=True)
class Seen:
    """Second differences of readings: a sixth of the sum of their squares, kg², and how many."""

    squares_kg2: float = 0.0
    count: float = 0.0

    def add(self, second_kg: float) -> Seen:
        """With one more."""
        return Seen(self.squares_kg2 + second_kg * second_kg / 6.0, self.count + 1.0)

    def var(self, before_kg2: float) -> float:
        """s² of (1), kg², as if it had been `before_kg2` in what is missing to READINGS."""
        return (self.squares_kg2 + max(READINGS - self.count, 0.0) * before_kg2) / max(self.count, READINGS)


NOTHING_SEEN = Seen()


@dataclass(frozen=True, slots=True)
class Stillness:
    """What the scale's last digit did at rest, and what the scale said of itself.

    Attributes:
        ever, now: by all that stood on the scale, and by what stands there now.
        last_kg: the last two readings.
        told_still_s: when the scale last said that nothing moves.
        falls: whether it was ever seen to say that something does.
    """

    ever: Seen = NOTHING_SEEN
    now: Seen = NOTHING_SEEN
    last_kg: tuple[float, ...] = ()
    told_still_s: float = -math.inf
    falls: bool = False

    def read(self, indication_kg: float, resolution_kg: float) -> Stillness:
        """After one more indication at rest."""
        if len(self.last_kg) < 2:
            return replace(self, last_kg=(*self.last_kg, indication_kg))
        second_kg = indication_kg - 2.0 * self.last_kg[1] + self.last_kg[0]
        last_kg = (self.last_kg[1], indication_kg)
        if abs(second_kg) > MOST_STEPS * resolution_kg:
            return replace(self, now=NOTHING_SEEN, last_kg=last_kg)
        return replace(self, ever=self.ever.add(second_kg), now=self.now.add(second_kg), last_kg=last_kg)

    def told(self, time_s: float, *, still: bool) -> Stillness:
        """After the scale has said at `time_s` whether its load is still."""
        return replace(self, told_still_s=time_s if still else -math.inf, falls=self.falls or not still)

    def is_still(self, time_s: float) -> bool:
        """Whether the scale says so, and is to be believed."""
        return self.falls and time_s - self.told_still_s <= FRESH_S

    def reading_var(self, resolution_kg: float) -> float:
        """Variance of one indication at rest, kg²."""
        return self.mean_var(resolution_kg, 1.0)

    def mean_var(self, resolution_kg: float, readings: float) -> float:
        """Variance of the mean of so many, kg², rounded in one way all of them."""
        step2 = resolution_kg * resolution_kg
        return step2 / 12.0 + self.ever.var(step2 / 12.0) / readings

    def rounding_var(self, resolution_kg: float) -> float:
        """(2), kg²: what no averaging takes away."""
        step2, flicker = resolution_kg * resolution_kg, self.now.var(0.0)
        return max(step2 / 24.0 - flicker / 6.0, step2 / 12.0 - max(flicker, self.ever.var(0.0)), 0.0)

    def anew(self) -> Stillness:
        """The same scale, once hands have been at what stands on it."""
        return replace(self, now=NOTHING_SEEN, last_kg=(), told_still_s=-math.inf)


NEVER_STILL = Stillness()
