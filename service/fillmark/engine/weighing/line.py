"""A straight line through a few indications, by least squares."""

from __future__ import annotations

from dataclasses import dataclass

Points = tuple[tuple[float, float], ...]
"""(time s, indication kg)."""


@dataclass(frozen=True, slots=True)
class Line:
    """`level_kg` at `middle_s`, and how far the worst point lies from it."""

    begins_s: float
    span_s: float
    middle_s: float
    level_kg: float
    slope_kg_s: float
    worst_residual_kg: float

    @classmethod
    def through(cls, points: Points) -> Line:
        """The line through one point or more."""
        count = len(points)
        middle = sum(t for t, _ in points) / count
        level = sum(z for _, z in points) / count
        spread = sum((t - middle) ** 2 for t, _ in points)
        slope = sum((t - middle) * (z - level) for t, z in points) / spread if spread > 0.0 else 0.0
        worst = max(abs(z - level - slope * (t - middle)) for t, z in points)
        return cls(points[0][0], points[-1][0] - points[0][0], middle, level, slope, worst)

    @property
    def flow_kg_s(self) -> float:
        """What flows out, if the line is a container's mass."""
        return -self.slope_kg_s

    def at(self, time_s: float) -> float:
        """Indication on the line, kg."""
        return self.level_kg + self.slope_kg_s * (time_s - self.middle_s)
