"""How old an indication is when it reaches the service: measured from the log, no clock is asked.

    delay = time of receipt - time of measurement = way of the indication + service's clock - devices' clock    (1)

The way is never negative, the difference of the clocks may be either. From (1) alone they cannot be told apart, but:

* A delay below nothing proves that the devices' clock is ahead, by so much at least (`apart_s`). Ages are corrected.
* The least delay is way, or clocks, or both. It counts as way, so that the call comes early and not late, and it is in
  doubt: between nothing and itself, equally likely, which is rectangular (JCGM 100:2008, section 4.3.7).
* What a usual delay has more than the least one is way alone, whatever the clocks say. The call itself needs such a
  while to a display; nobody measures that, so it is taken to be the same (`way_s`).

What is not in it: the time that scale and radio need before the agent stamps the reading, which is part of the scale's
declared delay; and the spool's backlog, which comes in a moment and is outnumbered.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import median

from fillmark.engine.reaction import Reaction

EVERY_S = 1.0
MOST_KEPT = 120
KEPT_S = 300.0
"""One delivery a second is looked at, over the last two minutes of a scale that speaks, but none older than this."""

HIGH = 0.95

MOST_WAY_S = 1.0
"""A call that is on its way for longer does not come by a link that works. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Delay:
    """Delays of the deliveries that brought news of the scale, s; None before the first.

    Attributes:
        kept: (received, delay) of the latest, oldest first.
        least_s, usual_s, high_s: the least, the median, and the one that 95 of 100 do not exceed.
    """

    kept: tuple[tuple[float, float], ...] = ()
    least_s: float | None = None
    usual_s: float | None = None
    high_s: float | None = None

    def heard(self, received_s: float, measured_s: float) -> Delay:
        """The delays after one more delivery, whose newest indication was measured at `measured_s`."""
        if self.kept and received_s - self.kept[-1][0] < EVERY_S:
            return self
        recent = tuple(one for one in self.kept[1 - MOST_KEPT :] if received_s - one[0] <= KEPT_S)
        kept = (*recent, (received_s, received_s - measured_s))
        delays = sorted(delay for _, delay in kept)
        return Delay(kept, delays[0], median(delays), delays[math.ceil(HIGH * len(delays)) - 1])

    def age_s(self, now_s: float, measured_s: float) -> float:
        """Age of an indication, s, with the clocks corrected as far as that is known."""
        return max(now_s - measured_s + self.apart_s, 0.0)

    @property
    def apart_s(self) -> float:
        """By how much the devices' clock is ahead of the service's at least, s."""
        return max(-(self.least_s or 0.0), 0.0)

    @property
    def way_s(self) -> float:
        """What the call needs to a display, s. A clock that was set lately must not look like it."""
        return 0.0 if self.usual_s is None or self.least_s is None else min(self.usual_s - self.least_s, MOST_WAY_S)

    @property
    def way_u_s(self) -> float:
        """Standard uncertainty of that, s: anything up to what nearly all deliveries stay below."""
        if self.high_s is None or self.least_s is None:
            return 0.0
        return min(self.high_s - self.least_s, 2.0 * MOST_WAY_S) / math.sqrt(12.0)

    @property
    def age_u_s(self) -> float:
        """Standard uncertainty of an indication's age, s: nobody knows how much of the least delay is clocks."""
        return max(self.least_s or 0.0, 0.0) / math.sqrt(3.0)

    def shut_after_s(self, reaction: Reaction) -> float:
        """From the call until the valve is shut, s. The way to the display is in a reaction that was learnt."""
        return reaction.time_s + (0.0 if reaction.is_learnt else self.way_s)

    def sentence(self) -> str | None:
        """How late readings are, in one line; None before the first."""
        if self.usual_s is None or self.high_s is None:
            return None
        if self.apart_s > 0.0:
            return f"The devices' clock is ahead by {self.apart_s:.2f} s or more; set the clocks."
        return f"Readings arrive after {self.usual_s:.2f} s, 95 of 100 within {self.high_s:.2f} s."


NO_DELAY = Delay()
