"""Least squares with a full covariance, small enough for plain Python: tens of points, four columns at most."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from operator import mul

Vector = tuple[float, ...]
Matrix = tuple[Vector, ...]


def dot(a: Sequence[float], b: Sequence[float]) -> float:
    """Scalar product."""
    return float(sum(map(mul, a, b)))


@dataclass(frozen=True, slots=True)
class Whitener:
    """Lower Cholesky factor of a covariance. It turns correlated errors into independent ones of variance one."""

    lower: Matrix

    @classmethod
    def of(cls, covariance: Sequence[Sequence[float]]) -> Whitener:
        """The factor. A covariance that rounding made singular is lifted by a hair."""
        lower: list[Vector] = []
        for i, row in enumerate(covariance):
            made: list[float] = []
            for j in range(i):
                made.append((row[j] - dot(made, lower[j])) / lower[j][j])
            rest = row[i] - dot(made, made)
            made.append(math.sqrt(max(rest, 1e-9 * row[i], 1e-30)))
            lower.append(tuple(made))
        return cls(tuple(lower))

    @property
    def log_determinant(self) -> float:
        """Natural logarithm of the covariance's determinant."""
        return 2.0 * sum(math.log(row[i]) for i, row in enumerate(self.lower))

    def white(self, values: Sequence[float]) -> Vector:
        """The values in units in which their errors are independent, of variance one."""
        made: list[float] = []
        for row, value in zip(self.lower, values, strict=True):
            made.append((value - dot(row, made)) / row[len(made)])  # dot stops at the shorter: what is made so far
        return tuple(made)


@dataclass(frozen=True, slots=True)
class Solution:
    """Coefficients, their covariance, and the sum of squares left."""

    coefficients: Vector
    covariance: Matrix
    chi2: float


def solve(columns: Sequence[Vector], values: Vector) -> Solution | None:
    """Least squares on whitened columns. None: the columns do not tell their coefficients apart."""
    size = len(columns)
    work = [[dot(a, b) for b in columns] + [float(i == j) for j in range(size)] for i, a in enumerate(columns)]
    largest = max(work[i][i] for i in range(size))
    for i in range(size):
        pivot = work[i][i]
        if pivot <= 1e-13 * largest:
            return None
        work[i] = [x / pivot for x in work[i]]
        for j in range(size):
            if j != i:
                factor = work[j][i]
                work[j] = [x - factor * y for x, y in zip(work[j], work[i], strict=True)]
    inverse = tuple(tuple(row[size:]) for row in work)
    right = [dot(column, values) for column in columns]
    found = tuple(dot(row, right) for row in inverse)
    left = list(values)
    for c, column in zip(found, columns, strict=True):
        left = [x - c * y for x, y in zip(left, column, strict=True)]
    return Solution(found, inverse, dot(left, left))
