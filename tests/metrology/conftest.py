"""Propagation of distributions by Monte Carlo, as JCGM 101:2008 describes it."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import pytest

Draw = Callable[[random.Random], float]


@dataclass(frozen=True)
class Distribution:
    """Values of the measurand in ascending order."""

    values: tuple[float, ...]

    @property
    def mean(self) -> float:
        return math.fsum(self.values) / len(self.values)

    @property
    def u(self) -> float:
        """Standard deviation (JCGM 101, 7.6)."""
        mean = self.mean
        return math.sqrt(math.fsum((one - mean) ** 2 for one in self.values) / (len(self.values) - 1))

    def symmetric(self, share: float = 0.95) -> tuple[float, float]:
        """Probabilistically symmetric coverage interval (7.7.2)."""
        inside = round(share * len(self.values))
        first = (len(self.values) - inside) // 2
        return self.values[first], self.values[first + inside - 1]

    def shortest(self, share: float = 0.95) -> tuple[float, float]:
        """Shortest coverage interval (7.7.4)."""
        inside = round(share * len(self.values))
        pairs = zip(self.values, self.values[inside:], strict=False)
        return min(pairs, key=lambda ends: ends[1] - ends[0])


MonteCarlo = Callable[[Callable[[Sequence[float]], float], Sequence[Draw], int], Distribution]


@pytest.fixture
def monte_carlo() -> MonteCarlo:
    """`monte_carlo(model, inputs, trials)` draws the inputs so often and returns the values of the model."""

    def run(model: Callable[[Sequence[float]], float], inputs: Sequence[Draw], trials: int) -> Distribution:
        luck = random.Random(101)
        return Distribution(tuple(sorted(model([draw(luck) for draw in inputs]) for _ in range(trials))))

    return run
