"""Least squares with columns that may only add: coefficients of zero or more, beside one constant of either sign.

The active-set method of Lawson and Hanson (Solving Least Squares Problems, 1974, chapter 23), on normal equations of
columns that are freed of the constant and scaled to length one.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from fillmark.engine.vacuum.algebra import Vector, dot

TOLERANCE = 1e-9
RIDGE = 1e-12
MOST_TURNS = 80


@dataclass(frozen=True, slots=True)
class Basis:
    """Whitened columns without the constant's share, of length one.

    Attributes:
        constant: the constant made white, of length one.
        scales: what each column was divided by.
        gram: scalar products of the columns.
    """

    constant: Vector
    columns: tuple[Vector, ...]
    scales: Vector
    gram: tuple[Vector, ...]

    @classmethod
    def of(cls, constant: Vector, columns: Sequence[Vector]) -> Basis:
        """Prepare whitened columns."""
        size = math.sqrt(dot(constant, constant))
        unit = tuple(x / size for x in constant)
        freed = [_freed(unit, column) for column in columns]
        scales = tuple(max(math.sqrt(dot(column, column)), 1e-30) for column in freed)
        made = tuple(tuple(x / s for x in column) for column, s in zip(freed, scales, strict=True))
        return cls(unit, made, scales, tuple(tuple(dot(a, b) for b in made) for a in made))

    def free(self, values: Vector) -> Vector:
        """Values without the constant's share."""
        return _freed(self.constant, values)

    def solve(self, freed: Vector, allowed: Sequence[int]) -> tuple[dict[int, float], float]:
        """Coefficients (of the columns as they came) above zero, and the sum of squares left."""
        right = [dot(column, freed) for column in self.columns]
        tolerance = TOLERANCE * math.sqrt(dot(freed, freed)) + 1e-12
        found: dict[int, float] = {}
        for _ in range(MOST_TURNS):
            slack = {
                i: right[i] - sum(x * self.gram[i][j] for j, x in found.items()) for i in allowed if i not in found
            }
            best = max(slack, key=lambda i: slack[i], default=None)
            if best is None or slack[best] <= tolerance:
                break
            found = self._added(found, best, right)
            if best not in found:
                break
        left = list(freed)
        for i, x in found.items():
            left = [value - x * c for value, c in zip(left, self.columns[i], strict=True)]
        return {i: x / self.scales[i] for i, x in found.items()}, dot(left, left)

    def _added(self, found: dict[int, float], new: int, right: Sequence[float]) -> dict[int, float]:
        """One more column; those that would turn negative leave on the way."""
        now = {**found, new: 0.0}
        while True:
            active = list(now)
            wanted = _solved([[self.gram[i][j] for j in active] for i in active], [right[i] for i in active])
            if all(x > 0.0 for x in wanted):
                return dict(zip(active, wanted, strict=True))
            pairs = list(zip(active, wanted, strict=True))
            step = min(now[i] / (now[i] - x) for i, x in pairs if x <= 0.0)
            moved = {i: now[i] + step * (x - now[i]) for i, x in pairs}
            stuck = min((i for i, x in pairs if x <= 0.0), key=lambda i: moved[i])
            now = {i: x for i, x in moved.items() if i != stuck and x > 0.0}
            if not now:
                return found


def _freed(unit: Vector, values: Vector) -> Vector:
    share = dot(unit, values)
    return tuple(v - share * u for v, u in zip(values, unit, strict=True))


def _solved(matrix: list[list[float]], right: Sequence[float]) -> list[float]:
    """Gaussian elimination of a small positive matrix."""
    size = len(right)
    work = [[*row, r] for row, r in zip(matrix, right, strict=True)]
    for i in range(size):
        pivot = work[i][i] + RIDGE
        work[i] = [x / pivot for x in work[i]]
        for j in range(size):
            if j != i and work[j][i]:
                factor = work[j][i]
                work[j] = [x - factor * y for x, y in zip(work[j], work[i], strict=True)]
    return [row[-1] for row in work]
