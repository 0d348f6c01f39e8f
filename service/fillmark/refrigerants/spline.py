"""A cubic spline through given nodes, in plain Python.

One evaluation of a scalar costs under a microsecond, which an array library cannot match for a single number.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from itertools import pairwise


class CubicSpline:
    """Piecewise cubic with continuous first and second derivative.

    The slope at either end is that of the cubic through the four nodes nearest to it, so the accuracy holds
    up to the ends. Outside the nodes the end pieces are continued: the caller checks the range.
    """

    __slots__ = ("_knots", "_pieces")

    def __init__(self, xs: Sequence[float], ys: Sequence[float]) -> None:
        """Nodes with strictly rising `xs`, four or more. Raises ValueError otherwise."""
        if len(xs) != len(ys) or len(xs) < 4:
            raise ValueError(f"a spline takes four nodes or more: got {len(xs)} x and {len(ys)} y")
        steps = [b - a for a, b in pairwise(xs)]
        if not all(step > 0.0 for step in steps):
            raise ValueError("the x of a spline must rise strictly")
        secants = [(b - a) / step for (a, b), step in zip(pairwise(ys), steps, strict=True)]
        slopes = _slopes(steps, secants, _end_slope(xs[:4], ys[:4]), _end_slope(xs[:-5:-1], ys[:-5:-1]))
        self._knots = tuple(xs[1:-1])
        self._pieces = tuple(
            (x, y, m, (3.0 * s - 2.0 * m - n) / h, (m + n - 2.0 * s) / (h * h))
            for x, y, h, s, (m, n) in zip(xs[:-1], ys[:-1], steps, secants, pairwise(slopes), strict=True)
        )

    def __call__(self, x: float) -> float:
        """Value at `x`."""
        x0, y0, a, b, c = self._pieces[bisect_right(self._knots, x)]
        d = x - x0
        return y0 + d * (a + d * (b + d * c))


def _end_slope(xs: Sequence[float], ys: Sequence[float]) -> float:
    """Slope at xs[0] of the cubic through four points (Newton's divided differences)."""
    first = [(ys[i + 1] - ys[i]) / (xs[i + 1] - xs[i]) for i in range(3)]
    second = [(first[i + 1] - first[i]) / (xs[i + 2] - xs[i]) for i in range(2)]
    third = (second[1] - second[0]) / (xs[3] - xs[0])
    d1, d2 = xs[0] - xs[1], xs[0] - xs[2]
    return first[0] + second[0] * d1 + third * d1 * d2


def _slopes(steps: Sequence[float], secants: Sequence[float], left: float, right: float) -> list[float]:
    """Slopes at all nodes that make the second derivative continuous (a tridiagonal system)."""
    upper, value = [0.0], [left]
    for h0, h1, s0, s1 in zip(steps[:-1], steps[1:], secants[:-1], secants[1:], strict=True):
        pivot = 2.0 * (h0 + h1) - h1 * upper[-1]
        upper.append(h0 / pivot)
        value.append((3.0 * (h1 * s0 + h0 * s1) - h1 * value[-1]) / pivot)
    slopes = [right]
    for u, v in zip(reversed(upper), reversed(value), strict=True):
        slopes.append(v - u * slopes[-1])
    slopes.reverse()
    return slopes
