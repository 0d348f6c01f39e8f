"""Four shapes of a rising vacuum, fitted to blocks.

* constant: p = p0
* leak:     p = p0 + b r(t)
* wet:      p = p0 + sum of A_k (1 - exp(-t / tau_k))
* both:     p = p0 + b r(t) + sum of A_k (1 - exp(-t / tau_k))

They follow from V p' = Q + S (p_s - p_w) with the vapour's own pressure p_w: different gases do not hinder each other,
so the shapes add. r(t) is t as long as p stays far below the atmosphere; a laminar leak passes
Q (1 - (p / p_air)**2), so r' = 1 - (p / p_air)**2 along the smoothed pressure.

Several fading sources, not one: a layer of oil gives off its gas as a sum of exponentials with positive shares (Crank,
The Mathematics of Diffusion, 2nd ed. 1975, section 4.3.2, from memory), and a wet spot warms up while it dries. With
b >= 0 and A_k >= 0 the shapes are cones, and "both" contains the other three.

What keeps a slow source from being a leak by another name is that it must bend:
* OUTGAS_LONGEST_S is the longest time constant of oil; or
* its rise may not exceed the saturation pressure of water at the coldest part: tau <= p_s T / rise.
VAPOUR_SHARE_U is how well sums of exponentials describe vapour at all, as a smooth error of the rise.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from fillmark.engine.vacuum.algebra import Vector, Whitener
from fillmark.engine.vacuum.nonnegative import Basis

OUTGAS_LONGEST_S = 5.0 * 3600.0
"""Longest time constant of gas leaving the oil of a circuit. Assumed, no source: chosen to lie above the simulator's
longest, 4 h. A slower source can be taken for a leak."""

VAPOUR_SHARE_U = 0.001
"""Assumed, and adjusted on simulated holds."""

SHORTEST_SHARE = 1.0 / 100.0
LONGEST_SHARE = 400.0
GRID_RATIO = 1.7
FINER = 3
RAMP = 0


class Shape(StrEnum):
    """Which of the four."""

    CONSTANT = "constant"
    LEAK = "leak"
    WET = "wet"
    BOTH = "both"


@dataclass(frozen=True, slots=True)
class Source:
    """One fading source: its whole rise, Pa, and its time constant, s."""

    rise_pa: float
    tau_s: float


@dataclass(frozen=True, slots=True)
class Fit:
    """A shape fitted. `misfit` is the sum of squares plus the logarithm of the covariance's determinant."""

    shape: Shape
    misfit: float
    chi2: float
    start_pa: float
    slope_pa_s: float
    sources: tuple[Source, ...]
    curve: Vector

    @property
    def parameters(self) -> int:
        """Numbers fitted."""
        return 1 + (1 if self.slope_pa_s else 0) + 2 * len(self.sources)


@dataclass(frozen=True, slots=True)
class Family:
    """The errors of dry and of wet shapes, the columns, and the bases made of them."""

    times_s: Vector
    ramp_s: Vector
    duration_s: float
    longest_tau_s: float
    dry: Whitener
    wet: Whitener
    dry_basis: Basis
    wet_basis: Basis
    taus_s: Vector

    @classmethod
    def of(
        cls, times_s: Vector, ramp_s: Vector, *, duration_s: float, longest_tau_s: float, dry: Whitener, wet: Whitener
    ) -> Family:
        """Make the grid. `wet` is the covariance if vapour is there: its pressure follows the temperature more."""
        one = tuple(1.0 for _ in times_s)
        dry_basis = Basis.of(dry.white(one), [dry.white(ramp_s)])
        made = cls(times_s, ramp_s, duration_s, longest_tau_s, dry, wet, dry_basis, dry_basis, ())
        return made._with(taus(duration_s, longest_tau_s))

    def _with(self, taus_s: Sequence[float]) -> Family:
        columns = [self.ramp_s, *(_relaxing(self.times_s, tau) for tau in taus_s)]
        one = tuple(1.0 for _ in self.times_s)
        basis = Basis.of(self.wet.white(one), [self.wet.white(column) for column in columns])
        return replace(self, wet_basis=basis, taus_s=tuple(taus_s))

    def refined(self, values: Sequence[float]) -> Family:
        """The same with a finer grid around the time constants that `values` need."""
        ratio, made = GRID_RATIO, self
        for _ in range(FINER):
            ratio = math.sqrt(ratio)
            used = {s.tau_s for leaking in (False, True) for s in made.vapour(values, leaking=leaking).sources}
            near = {t * f for t in used for f in (1.0 / ratio, 1.0, ratio) if t * f <= self.longest_tau_s * 1.001}
            made = made._with(sorted({*taus(self.duration_s, self.longest_tau_s), *near}))
        return made

    def fits(self, values: Sequence[float]) -> dict[Shape, Fit]:
        """Every shape. A wider shape never fits worse than one that it contains."""
        still, line = self.dry_fit(values, leaking=False), self.dry_fit(values, leaking=True)
        wet = min(still, self.vapour(values, leaking=False), key=_misfit)
        both = min(line, wet, self.vapour(values, leaking=True), key=_misfit)
        return {Shape.CONSTANT: still, Shape.LEAK: line, Shape.WET: wet, Shape.BOTH: both}

    def dry_fit(self, values: Sequence[float], *, leaking: bool) -> Fit:
        """Constant or leak."""
        white = self.dry.white(values)
        found, chi2 = self.dry_basis.solve(self.dry_basis.free(white), (RAMP,) if leaking else ())
        return self._fit(values, (found, chi2), self.dry, Shape.LEAK if leaking else Shape.CONSTANT)

    def vapour(self, values: Sequence[float], *, leaking: bool) -> Fit:
        """Wet or both."""
        white = self.wet.white(values)
        allowed = range(RAMP if leaking else RAMP + 1, len(self.taus_s) + 1)
        found, chi2 = self.wet_basis.solve(self.wet_basis.free(white), allowed)
        return self._fit(values, (found, chi2), self.wet, Shape.BOTH if leaking else Shape.WET)

    def misfit_with(self, values: Sequence[float], slope_pa_s: float) -> float:
        """Misfit of the best vapour beside this leak."""
        rest = tuple(v - slope_pa_s * r for v, r in zip(values, self.ramp_s, strict=True))
        allowed = range(RAMP + 1, len(self.taus_s) + 1)
        return self.wet_basis.solve(self.wet_basis.free(self.wet.white(rest)), allowed)[1] + self.wet.log_determinant

    @property
    def dry_slope_u_pa_s(self) -> float:
        """Standard uncertainty of the slope of a leak alone, Pa/s."""
        return 1.0 / self.dry_basis.scales[RAMP]

    def _fit(
        self, values: Sequence[float], found: tuple[dict[int, float], float], errors: Whitener, shape: Shape
    ) -> Fit:
        coefficients, chi2 = found
        slope = coefficients.get(RAMP, 0.0)
        sources = tuple(Source(x, self.taus_s[i - 1]) for i, x in coefficients.items() if i != RAMP)
        rise = [slope * r for r in self.ramp_s]
        for source in sources:
            g = _relaxing(self.times_s, source.tau_s)
            rise = [a + source.rise_pa * b for a, b in zip(rise, g, strict=True)]
        one = errors.white([1.0] * len(rise))
        rest = errors.white([v - r for v, r in zip(values, rise, strict=True)])
        start = sum(a * b for a, b in zip(one, rest, strict=True)) / sum(a * a for a in one)
        curve = tuple(start + r for r in rise)
        return Fit(shape, chi2 + errors.log_determinant, chi2, start, slope, sources, curve)


def taus(duration_s: float, longest_s: float) -> tuple[float, ...]:
    """The grid of time constants, s."""
    shortest = duration_s * SHORTEST_SHARE
    count = max(math.ceil(math.log(longest_s / shortest) / math.log(GRID_RATIO)), 2)
    ratio = (longest_s / shortest) ** (1.0 / count)
    return tuple(shortest * ratio**i for i in range(count + 1))


def ramp(times_s: Sequence[float], curve_pa: Sequence[float], atmosphere_pa: float) -> Vector:
    """Time in which a leak into vacuum would have passed what this one has passed, s."""
    shares = [1.0 - min(max(p, 0.0) / atmosphere_pa, 1.0) ** 2 for p in curve_pa]
    passed = [shares[0] * times_s[0]]
    for a, b, share, more in zip(times_s, times_s[1:], shares, shares[1:], strict=False):
        passed.append(passed[-1] + (b - a) * (share + more) / 2.0)
    return tuple(passed)


def _misfit(fit: Fit) -> float:
    return fit.misfit


def _relaxing(times_s: Vector, tau_s: float) -> Vector:
    return tuple(-math.expm1(-t / tau_s) for t in times_s)
