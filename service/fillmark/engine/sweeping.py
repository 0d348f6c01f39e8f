"""Liquid that lies in a hose and is pushed into the circuit by the vapour behind it.

It goes as fast as the port lets liquid through, some SWEPT_KG_S (1.3 mm, common practice, no source), for little
vapour takes much room. Slugs and bubbles do not leave in order, so what is left is taken to fall by exp(-p²), p being
what could have been pushed out by now over what there was. Where no more than a certain mass can be pushed out at all,
q being that over what there was,

    left = wet [1 - (1 - exp(-q²)) (1 - exp(-p²))]

Rate and limit are known to SWEPT_U and PUSHES_U (judged); of what has gone a film may cling to the wall.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from fillmark.engine.hold_up import NOTHING, HoldUp

SWEPT_KG_S = 8e-3
SWEPT_U = 0.3
PUSHES_U = 0.5
LONG_GONE = 5.0

PUSHED_BY_ITS_OWN = 20.0
"""Vapour pushes out so many times its mass of liquid at most: the ratio of their densities, low."""

FILM_SHARE_U = 0.015
"""Of the liquid that was pushed out, so much may cling to the wall: standard uncertainty. Judged."""


@dataclass(frozen=True, slots=True)
class Sweep:
    """Liquid `wet` that vapour began to push out at `since_s`: as fast as `rate_kg_s`, and `most_kg` of it at most."""

    wet: HoldUp = NOTHING
    since_s: float = 0.0
    rate_kg_s: float = SWEPT_KG_S
    most_kg: float = math.inf

    def left(self, time_s: float, vapour_kg: float = math.inf) -> HoldUp:
        """What is left of it at `time_s`, so much vapour having come in behind it; infinite: nobody knows."""
        wet = self.wet
        if wet.mass_kg <= 0.0:
            return NOTHING
        by_now = min(self.rate_kg_s * max(time_s - self.since_s, 0.0), PUSHED_BY_ITS_OWN * vapour_kg) / wet.mass_kg
        p2, q2 = min(by_now, LONG_GONE) ** 2, min(self.most_kg / wet.mass_kg, LONG_GONE) ** 2
        stays, never = math.exp(-p2), math.exp(-q2)
        share = 1.0 - (1.0 - never) * (1.0 - stays)
        u_rate = 2.0 * SWEPT_U * p2 * stays * (1.0 - never)
        u_most = 2.0 * PUSHES_U * q2 * never * (1.0 - stays)
        gone = FILM_SHARE_U * (1.0 - share)
        return HoldUp(share * wet.mass_kg, math.hypot(share * wet.u_kg, math.hypot(u_rate, u_most, gone) * wet.mass_kg))

    def stopped(self, left: HoldUp) -> Sweep:
        """What can still be pushed out once `left` of it is left and the circuit is shut."""
        return replace(self, wet=left, most_kg=max(self.most_kg - max(self.wet.mass_kg - left.mass_kg, 0.0), 0.0))


NO_SWEEP = Sweep()
