"""How slowly the scale follows its load, measured while a container that was put on the pan comes to rest.

A lag of the first order leaves, after a step of the load,

    z(t) = z_end + a exp(-t / T)                                                                             (1)

For a given T that is linear in z_end and a: least squares in closed form. The best T is sought on a grid (variable
projection; Golub and Pereyra 1973, from memory). It counts where (1) fits the end of the way to a step of the
indication, and where a T longer or shorter by a quarter would not. A hand that lets go slowly, a bump or a filter of
another kind does not fit, and then nothing is known. Hands only make a scale look slower: the shortest T of several
counts. The way by radio is not in it.

Who opens the container before the scale has come to rest has weighed it by z_end, and what is left of the way is added
to the readings that follow. That is so only where every reading since it was put on lies on the way to rest, the last
one too: hoses are hung and hands come later.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from fillmark.engine.weighing.line import Points

PUT_ON_KG = 0.1
FROM_SHARE = 0.5
"""What moves so far from one reading to the next is being put on or taken off, or far from rest yet. If it began above
such a share of the load it was not put on: a hand leans on what stood there."""

KEPT_S = 25.0
LAG_WITHIN_S = 12.0
TAILS_STEPS = (100.0, 400.0)
LEAST_POINTS = 5
"""So long after that (for the lag: or so long, if then somebody came), so near to rest (further off where that does not
tell), and so many readings are looked at."""

GONE_LAGS = 12.0
"""After so many lags nothing is left of any way."""

SHORTEST_S = 0.1
RATIO = 1.08
GRID = 55
"""The time constants tried, s: from 0.1 to 6.4, each so much longer than the one before."""

TOLD_BY = 1.25
TELLS_STEPS2 = 4.0
"""What a time constant so much longer or shorter must leave besides, sum of squares in steps²: of some 0.15 for each
reading (see `stillness.py`) that is five standard deviations."""

FITS_STEPS = 0.75
"""Root mean square of what (1) leaves, in steps. Rounding and half a step of unrest make 0.58."""


@dataclass(frozen=True, slots=True)
class Way:
    """T of (1), s, z_end, kg, and the sum of squares left, in steps²."""

    lag_s: float
    end_kg: float
    left_steps2: float


@dataclass(frozen=True, slots=True)
class Settling:
    """What the scale shows since something was put on the pan, and what that told.

    Attributes:
        points: readings since (time s, kg).
        from_kg: what was shown before.
        before_kg: the last reading of all.
        lag_s: the time constant, s; None: not measured.
        way: the one on which the container was opened; None: not known.
        left_s, left_kg: when it was read last, and how much of it was left then.
    """

    points: Points = ()
    from_kg: float = math.inf
    before_kg: float = math.inf
    lag_s: float | None = None
    way: Way | None = None
    left_s: float = -math.inf
    left_kg: float = 0.0

    def read(self, time_s: float, indication_kg: float) -> Settling:
        """After one more indication of a pan that hands may reach."""
        moved_kg = indication_kg - self.before_kg
        if moved_kg > PUT_ON_KG:
            from_kg = self.from_kg if len(self.points) == 1 else self.before_kg
            return replace(self, points=((time_s, indication_kg),), from_kg=from_kg, before_kg=indication_kg)
        if moved_kg < -PUT_ON_KG:
            return replace(self, points=(), before_kg=indication_kg)
        goes_on = self.points and time_s - self.points[0][0] <= KEPT_S
        points = (*self.points, (time_s, indication_kg)) if goes_on else self.points
        return replace(self, points=points, before_kg=indication_kg)

    def measured(self, time_s: float, resolution_kg: float) -> Settling:
        """With what the readings have told when the container is opened at `time_s`."""
        done = replace(self, points=(), way=None)
        if not self.points or self.from_kg > FROM_SHARE * self.points[-1][1]:
            return done
        began_s = self.points[0][0]
        way = way_to_rest(self.points, resolution_kg)
        told = way or way_to_rest(tuple(p for p in self.points if p[0] - began_s <= LAG_WITHIN_S), resolution_kg)
        if told is None:
            return done
        lag_s = told.lag_s if self.lag_s is None else min(told.lag_s, self.lag_s)
        if way is None or time_s - began_s > KEPT_S:
            return replace(done, lag_s=lag_s)
        return replace(done, lag_s=lag_s, way=way, left_s=self.points[-1][0], left_kg=way.end_kg - self.before_kg)

    def to_go_kg(self, time_s: float) -> float:
        """What an indication of the container that was opened on its way is still short of, kg."""
        if self.way is None:
            return 0.0
        lags = (time_s - self.left_s) / self.way.lag_s
        return self.left_kg * math.exp(-lags) if 0.0 <= lags <= GONE_LAGS else 0.0


def way_to_rest(points: Points, resolution_kg: float) -> Way | None:
    """What indications of a scale of that step, kg, say of how they come to rest. None: nothing that is sure."""
    tails = (tuple(p for p in points if abs(p[1] - points[-1][1]) <= most * resolution_kg) for most in TAILS_STEPS)
    found = (_told(tail, resolution_kg) for tail in tails if len(tail) >= LEAST_POINTS)
    return next((way for way in found if way is not None), None)


def _told(tail: Points, resolution_kg: float) -> Way | None:
    tried = [_way(tail, SHORTEST_S * RATIO**n, resolution_kg) for n in range(GRID)]
    lowest = min(range(1, GRID - 1), key=lambda n: tried[n].left_steps2)
    left, middle, right = (tried[n].left_steps2 for n in (lowest - 1, lowest, lowest + 1))
    bend = left - 2.0 * middle + right
    aside = (left - right) / (2.0 * bend) if bend > 0.0 else 0.0  # to the lowest point of the parabola
    best = _way(tail, tried[lowest].lag_s * RATIO ** max(min(aside, 1.0), -1.0), resolution_kg)
    fits = best.left_steps2 <= FITS_STEPS**2 * (len(tail) - 3)
    others = (_way(tail, other, resolution_kg) for other in (best.lag_s / TOLD_BY, best.lag_s * TOLD_BY))
    return best if fits and all(one.left_steps2 >= best.left_steps2 + TELLS_STEPS2 for one in others) else None


def _way(tail: Points, lag_s: float, resolution_kg: float) -> Way:
    """z_end and what is left with this T, by linear least squares."""
    began_s, count = tail[0][0], len(tail)
    decay = [math.exp(-(t - began_s) / lag_s) for t, _ in tail]
    mean_e, mean_z = sum(decay) / count, sum(z for _, z in tail) / count
    ee = sum((e - mean_e) ** 2 for e in decay)
    ez = sum((e - mean_e) * (z - mean_z) for e, (_, z) in zip(decay, tail, strict=True))
    zz = sum((z - mean_z) ** 2 for _, z in tail)
    slope = ez / ee if ee > 0.0 else 0.0
    return Way(lag_s, mean_z - slope * mean_e, (zz - slope * ez) / resolution_kg**2)


UNSETTLED = Settling()
