"""Four shapes of a rising vacuum, fitted to blocks.

* constant: p = p0
* leak:     p = p0 + b t                       (air of 1 bar through a leak: p stays far below it)
* wet:      p = p0 + A g(t / tau)
* both:     p = p0 + b t + A g(t / tau)

They follow from V p' = Q + S (p_s - p_w) with the vapour's own pressure p_w: gases of different kinds do not hinder each
other, so the shapes add. g is either 1 - exp(-x), of a source with a ceiling, or what leaves a layer by diffusion,
1 - sum of 8 / (pi**2 (2n+1)**2) exp(-(2n+1)**2 x): first a square root of time, then exponential (Crank, The
Mathematics of Diffusion, 2nd ed. 1975, section 4.3.2, from memory). tau lies on a grid; the rest is linear.

Physical bounds: b >= 0, and 0 <= A <= the saturation pressure of water at the coldest part. The bound gives a wet
rise its least bend: without it a slow source and a leak are one and the same curve.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from fillmark.engine.vacuum.algebra import Vector, Whitener, solve

SHORTEST_SHARE = 1.0 / 40.0
LONGEST_SHARE = 400.0
TAUS = 26
MODES = 8


class Shape(StrEnum):
    """Which of the four."""

    CONSTANT = "constant"
    LEAK = "leak"
    WET = "wet"
    BOTH = "both"


PARAMETERS = {Shape.CONSTANT: 1, Shape.LEAK: 2, Shape.WET: 3, Shape.BOTH: 4}


@dataclass(frozen=True, slots=True)
class Fit:
    """A shape fitted.

    Attributes:
        misfit: sum of squares plus the logarithm of the covariance's determinant.
        slope_pa_s: b and its standard uncertainty; 0 where the shape has none.
        curve: the fitted pressures.
        rise_pa: A, 0 where the shape has none.
    """

    shape: Shape
    misfit: float
    chi2: float
    slope_pa_s: float
    slope_u_pa_s: float
    rise_pa: float
    tau_s: float | None
    curve: Vector


@dataclass(frozen=True, slots=True)
class Family:
    """Everything that fitting needs: the errors, and the columns made white once."""

    times_s: Vector
    duration_s: float
    ceiling_pa: float
    dry: Whitener
    wet: Whitener
    dry_columns: tuple[Vector, Vector]
    wet_columns: tuple[Vector, Vector]
    sources: tuple[tuple[float, Vector, Vector], ...]
    """(tau, g at the times, the same made white)."""

    @classmethod
    def of(cls, times_s: Vector, duration_s: float, ceiling_pa: float, dry: Whitener, wet: Whitener) -> Family:
        """Make the columns. `wet` is the covariance if vapour is there: its pressure follows the temperature more."""
        one, ramp = tuple(1.0 for _ in times_s), tuple(t / duration_s for t in times_s)
        sources = [(tau, g, wet.white(g)) for tau in taus(duration_s) for g in (_relaxing(times_s, tau),)]
        sources += [
            (tau, g, wet.white(g)) for tau in taus(duration_s) if tau < 20.0 * duration_s
            for g in (_diffusing(times_s, tau),)
        ]  # fmt: skip
        return cls(
            times_s,
            duration_s,
            ceiling_pa,
            dry,
            wet,
            (dry.white(one), dry.white(ramp)),
            (wet.white(one), wet.white(ramp)),
            tuple(sources),
        )

    def fits(self, values: Sequence[float]) -> dict[Shape, list[Fit]]:
        """Every shape, best first; wet and both once for every source of the grid."""
        dry, wet = self.dry.white(values), self.wet.white(values)
        made = {
            Shape.CONSTANT: [f for f in (self._dry(dry, leaking=False), self._still(wet)) if f],
            Shape.LEAK: [f for f in (self._dry(dry, leaking=True),) if f],
            Shape.WET: [f for s in self.sources if (f := self._wet(wet, s, leaking=False))],
            Shape.BOTH: [f for s in self.sources if (f := self._wet(wet, s, leaking=True))],
        }
        still = made[Shape.CONSTANT][-1]
        made[Shape.WET] = made[Shape.WET] or [still]
        made[Shape.LEAK] = made[Shape.LEAK] or made[Shape.CONSTANT][:1]
        made[Shape.BOTH] = made[Shape.BOTH] or made[Shape.LEAK]
        return {shape: sorted(fits, key=lambda f: f.misfit) for shape, fits in made.items()}

    def slope(self, values: Sequence[float]) -> tuple[float, float]:
        """Slope of the straight line with either sign, and its standard uncertainty, Pa/s."""
        found = solve(self.dry_columns, self.dry.white(values))
        if found is None:
            return 0.0, math.inf
        return found.coefficients[1] / self.duration_s, math.sqrt(found.covariance[1][1]) / self.duration_s

    def distance(self, curve: Sequence[float], shape: Shape) -> float:
        """How many standard deviations of the data part `curve` from the nearest curve of `shape`.

        Its square is what the Fisher information of the data says about the difference.
        """
        found = self.fits(curve)
        allowed = [f for s in (Shape.CONSTANT, shape) for f in found[s]]
        return math.sqrt(max(min(f.chi2 for f in allowed), 0.0))

    def _dry(self, white: Vector, *, leaking: bool) -> Fit | None:
        columns = self.dry_columns if leaking else self.dry_columns[:1]
        found = solve(columns, white)
        if found is None or (leaking and found.coefficients[1] < 0.0):
            return None
        p0, slope = found.coefficients[0], found.coefficients[1] if leaking else 0.0
        u = math.sqrt(found.covariance[1][1]) if leaking else 0.0
        return Fit(
            Shape.LEAK if leaking else Shape.CONSTANT,
            found.chi2 + self.dry.log_determinant,
            found.chi2,
            slope / self.duration_s,
            u / self.duration_s,
            0.0,
            None,
            tuple(p0 + slope * t / self.duration_s for t in self.times_s),
        )

    def _still(self, white: Vector) -> Fit | None:
        """Vapour at its ceiling from the start, moving with the temperature alone."""
        found = solve(self.wet_columns[:1], white)
        if found is None:
            return None
        curve = tuple(found.coefficients[0] for _ in self.times_s)
        return Fit(Shape.CONSTANT, found.chi2 + self.wet.log_determinant, found.chi2, 0.0, 0.0, 0.0, None, curve)

    def _wet(self, white: Vector, source: tuple[float, Vector, Vector], *, leaking: bool) -> Fit | None:
        tau, g, g_white = source
        ramp = self.wet_columns[1:] if leaking else ()
        found = solve((self.wet_columns[0], *ramp, g_white), white)
        if found is None or found.coefficients[-1] < 0.0:
            return None
        p0, rise, u, chi2 = found.coefficients[0], found.coefficients[-1], 0.0, found.chi2
        slope = found.coefficients[1] if leaking else 0.0
        if leaking:
            u = math.sqrt(found.covariance[1][1])
        if rise > self.ceiling_pa:
            rise = self.ceiling_pa
            left = tuple(w - rise * x for w, x in zip(white, g_white, strict=True))
            found = solve((self.wet_columns[0], *ramp), left)
            if found is None:
                return None
            p0, chi2, slope = found.coefficients[0], found.chi2, found.coefficients[1] if leaking else 0.0
        if slope < 0.0:
            return None
        d = self.duration_s
        curve = tuple(p0 + slope * t / d + rise * x for t, x in zip(self.times_s, g, strict=True))
        shape = Shape.BOTH if leaking else Shape.WET
        return Fit(shape, chi2 + self.wet.log_determinant, chi2, slope / d, u / d, rise, tau, curve)


def taus(duration_s: float) -> tuple[float, ...]:
    """The grid of time constants, s."""
    ratio = (LONGEST_SHARE / SHORTEST_SHARE) ** (1.0 / (TAUS - 1))
    return tuple(duration_s * SHORTEST_SHARE * ratio**i for i in range(TAUS))


def _relaxing(times_s: Vector, tau_s: float) -> Vector:
    return tuple(-math.expm1(-t / tau_s) for t in times_s)


def _diffusing(times_s: Vector, tau_s: float) -> Vector:
    odd = [(2 * n + 1) ** 2 for n in range(MODES)]
    whole = sum(1.0 / k for k in odd)
    return tuple(sum(-math.expm1(-k * t / tau_s) / k for k in odd) / whole for t in times_s)
