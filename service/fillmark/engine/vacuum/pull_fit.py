"""The end of a pull-down, fitted: a pump behind a hose draws on a volume into which gas comes at a steady rate.

* V p' = Q - S(p) (p - p_pump). Behind a hose S grows with the pressure, S = S0 + a p, because laminar flow does
  (`conductance.py`); towards low pressures it is constant. Then p' = -c (p - p1) (p + p2), with the plateau p1, and
      (p - p1) / (p + p2) = K exp(-k t),  k = c (p1 + p2).
  A pump alone has no p2 (it lies at infinity): p = p1 + A exp(-k t), the textbook's pump-down with tau = V / S = 1 / k.
  Source of the balance: Pfeiffer Vacuum, Know-how book, sections 2.1 and 7.1.2, from memory; its solution for a speed
  that grows with the pressure is worked out here, by separating the variables.
* Errors are a share MODEL_SHARE_U of the pressure and those of the gauge, so that every decade counts alike: a fit on a
  logarithmic scale that bears readings of zero.
* Least squares by Levenberg and Marquardt (Press et al., Numerical Recipes, section 15.5) from several starts.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fillmark.engine.quantity import Quantity
from fillmark.engine.vacuum.algebra import solve
from fillmark.engine.vacuum.gauge import Gauge
from fillmark.engine.vacuum.series import Sample

MODEL_SHARE_U = 0.02
"""How well the balance with a steady load describes a circuit. Common practice, no source."""

MOST_SAMPLES = 150
TURNS = 25
NUDGE = 1e-4
START_RATES = (1.5, 5.0, 20.0, 80.0)
START_BENDS = (0.3, 30.0)
"""Rates in one over the window's time; p2 in units of the pressure at its start."""

BENDS = (1e-4, 1e6)
Parameters = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class PullFit:
    """A pull-down's end. Times count from `start_s`; pressures Pa, absolute.

    Attributes:
        rate: k, 1/s, and its standard uncertainty: how fast what is left above the plateau dies away.
        plateau: p1.
        start_pa: fitted pressure at the start.
        bend_pa: p2.
        misfit: sum of squares over degrees of freedom.
    """

    start_s: float
    rate: Quantity
    plateau: Quantity
    start_pa: float
    bend_pa: float
    misfit: float

    def at(self, time_s: float) -> float:
        """Pressure at a time, Pa."""
        return _model((self.rate.value, self.bend_pa, self.plateau.value, self.start_pa), time_s - self.start_s)

    def left_pa(self, time_s: float) -> float:
        """How far the pressure is above its plateau at a time, Pa."""
        return self.at(time_s) - self.plateau.value

    def time_until_s(self, from_pa: float, to_pa: float) -> float | None:
        """How long from one pressure to another, s. None: never, for the plateau lies above."""
        p1, p2 = self.plateau.value, self.bend_pa
        if to_pa <= p1 or from_pa <= to_pa:
            return None if to_pa <= p1 else 0.0
        ratio = (from_pa - p1) / (from_pa + p2) * (to_pa + p2) / (to_pa - p1)
        return math.log(ratio) / self.rate.value


def fitted(window: Sequence[Sample], gauge: Gauge) -> PullFit:
    """Fit `window`, eight samples or more in order of time."""
    thin = _thinned(window)
    start = thin[0].time_s
    span = thin[-1].time_s - start
    times = [s.time_s - start for s in thin]
    values = [s.pressure_pa for s in thin]
    sigmas = [math.hypot(MODEL_SHARE_U * p, gauge.reading_u_pa) for p in values]
    first, lowest = max(values[0], gauge.resolution_pa), max(min(values), 0.3 * gauge.resolution_pa)
    tried = [
        _descend((rate / span, bend * first, 0.8 * lowest, first), times, values, sigmas)
        for rate in START_RATES
        for bend in START_BENDS
    ]
    chi2, best = min(tried)
    misfit = chi2 / max(len(thin) - 4, 1)
    rate_u, plateau_u = _uncertainties(best, times, values, sigmas)
    excess = math.sqrt(max(misfit, 1.0))
    return PullFit(
        start, Quantity(best[0], rate_u * excess), Quantity(best[2], plateau_u * excess), best[3], best[1], misfit
    )


def _thinned(window: Sequence[Sample]) -> list[Sample]:
    """Evenly over the window, first and last kept: more samples would cost time and say the same."""
    if len(window) <= MOST_SAMPLES:
        return list(window)
    step = (len(window) - 1) / (MOST_SAMPLES - 1)
    return [window[round(i * step)] for i in range(MOST_SAMPLES)]


def _model(parameters: Parameters, time_s: float) -> float:
    rate, bend, plateau, first = parameters
    left = (first - plateau) / (first + bend) * math.exp(-min(rate * time_s, 700.0))
    return (plateau + bend * left) / (1.0 - left)


def _residuals(
    parameters: Parameters, times: Sequence[float], values: Sequence[float], sigmas: Sequence[float]
) -> list[float]:
    return [(p - _model(parameters, t)) / u for t, p, u in zip(times, values, sigmas, strict=True)]


def _moved(parameters: Parameters, steps: Sequence[float], scale_pa: float) -> Parameters:
    """Rate, bend and start move by factors, the plateau by pascals; all stay where they make sense."""
    rate, bend, plateau, first = parameters
    by = [math.exp(min(max(step, -1.5), 1.5)) for step in steps]
    first = max(first * by[3], 1e-3)
    plateau = min(max(plateau + min(max(steps[2], -1.0), 1.0) * scale_pa, 0.0), 0.999 * first)
    return rate * by[0], min(max(bend * by[1], BENDS[0] * first), BENDS[1] * first), plateau, first


def _jacobian(
    parameters: Parameters, times: Sequence[float], sigmas: Sequence[float], scale_pa: float
) -> list[tuple[float, ...]]:
    columns = []
    here = [_model(parameters, t) for t in times]
    for i in range(4):
        steps = [NUDGE if i == j else 0.0 for j in range(4)]
        near = _moved(parameters, steps, scale_pa)
        columns.append(tuple((_model(near, t) - p) / NUDGE / u for t, p, u in zip(times, here, sigmas, strict=True)))
    return columns


def _descend(
    start: Parameters, times: Sequence[float], values: Sequence[float], sigmas: Sequence[float]
) -> tuple[float, Parameters]:
    here, scale_pa = start, max(start[2], min(sigmas))
    left = _residuals(here, times, values, sigmas)
    chi2, damping = sum(x * x for x in left), 1e-2
    for _ in range(TURNS):
        columns = _jacobian(here, times, sigmas, scale_pa)
        step = _damped(columns, left, damping)
        if step is None:
            return chi2, here
        there = _moved(here, step, scale_pa)
        after = _residuals(there, times, values, sigmas)
        reached = sum(x * x for x in after)
        if reached >= chi2:
            damping *= 8.0
            if damping > 1e8:
                break
            continue
        done = chi2 - reached < 1e-5 * chi2
        here, left, chi2, damping = there, after, reached, damping / 6.0
        if done:
            break
    return chi2, here


def _damped(columns: list[tuple[float, ...]], left: Sequence[float], damping: float) -> Sequence[float] | None:
    """One step: least squares with a spring of the strength `damping` on every parameter."""
    size = len(columns)
    rows = []
    for i, column in enumerate(columns):
        own = math.sqrt(damping * sum(x * x for x in column) + 1e-12)
        rows.append((*column, *(own if i == j else 0.0 for j in range(size))))
    found = solve(rows, (*left, *(0.0,) * size))
    return None if found is None else found.coefficients


def _uncertainties(
    best: Parameters, times: Sequence[float], values: Sequence[float], sigmas: Sequence[float]
) -> tuple[float, float]:
    scale_pa = max(best[2], min(sigmas))
    columns = _jacobian(best, times, sigmas, scale_pa)
    # A bend that the data do not know stays within a few of its own sizes.
    columns = [(*column, 0.3 if i == 1 else 0.0) for i, column in enumerate(columns)]
    found = solve(columns, (0.0,) * (len(values) + 1))
    if found is None:
        return best[0], max(best[2], scale_pa)
    rate_u, plateau_u = math.sqrt(max(found.covariance[0][0], 0.0)), math.sqrt(max(found.covariance[2][2], 0.0))
    return best[0] * rate_u, scale_pa * plateau_u
