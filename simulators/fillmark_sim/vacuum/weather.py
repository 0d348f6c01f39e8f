"""How the temperature of gas and metal wanders while a circuit stands: sun, or an engine bay that cools."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

Shape = Literal["linear", "relaxing", "passing"]
SHAPES: tuple[Shape, ...] = ("linear", "relaxing", "passing")


@dataclass(frozen=True, slots=True)
class Weather:
    """Temperature over time.

    Attributes:
        start_k: at the beginning.
        change_k: how far it wanders (negative: down).
        shape: "linear" over lasts_s; "relaxing" exponentially with lasts_s / 3; "passing" up and back again.
        lasts_s: how long the wandering takes.
    """

    start_k: float
    change_k: float = 0.0
    shape: Shape = "linear"
    lasts_s: float = 1800.0

    def at(self, elapsed_s: float) -> float:
        """Temperature (K) so long (s) after the beginning."""
        share = max(0.0, elapsed_s) / self.lasts_s
        if self.shape == "relaxing":
            return self.start_k - self.change_k * math.expm1(-3.0 * share)
        if self.shape == "passing":
            return self.start_k + self.change_k * math.sin(math.pi * min(share, 1.0)) ** 2
        return self.start_k + self.change_k * min(share, 1.0)
