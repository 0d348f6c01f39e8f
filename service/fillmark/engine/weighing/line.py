"""A straight line through a few indications, by least squares."""

from __future__ import annotations

from dataclasses import dataclass

CONFIRM_S = 1.5
CONFIRM_READINGS = 4
SLOW_CONFIRM_S = 3.0
SLOW_CONFIRM_READINGS = 3
"""A line is one after so long and so many readings, or so long and fewer of a slow scale."""

STRAIGHT_STEPS = 2.5

Points = tuple[tuple[float, float], ...]
"""(time s, indication kg)."""


@dataclass(frozen=True, slots=True)
class Line:
    """`level_kg` at `middle_s`, how far the worst point lies from it, and the mean time between two points."""

    begins_s: float
    span_s: float
    middle_s: float
    level_kg: float
    slope_kg_s: float
    worst_residual_kg: float
    interval_s: float = 0.0

    @classmethod
    def through(cls, points: Points) -> Line:
        """The line through one point or more."""
        count = len(points)
        middle = sum(t for t, _ in points) / count
        level = sum(z for _, z in points) / count
        spread = sum((t - middle) ** 2 for t, _ in points)
        slope = sum((t - middle) * (z - level) for t, z in points) / spread if spread > 0.0 else 0.0
        worst = max(abs(z - level - slope * (t - middle)) for t, z in points)
        begins, span = points[0][0], points[-1][0] - points[0][0]
        return cls(begins, span, middle, level, slope, worst, span / max(count - 1, 1))

    @property
    def flow_kg_s(self) -> float:
        """What flows out, if the line is a container's mass."""
        return -self.slope_kg_s

    def at(self, time_s: float) -> float:
        """Indication on the line, kg."""
        return self.level_kg + self.slope_kg_s * (time_s - self.middle_s)

    def is_straight(self, resolution_kg: float) -> bool:
        """Whether no point lies further off than the steps of the scale explain."""
        return self.worst_residual_kg <= STRAIGHT_STEPS * resolution_kg


def settled_line(points: Points, resolution_kg: float) -> Line | None:
    """A line through the latest indications; those of a transition before it are passed over. None: not yet."""
    while len(points) >= SLOW_CONFIRM_READINGS:
        span = points[-1][0] - points[0][0]
        soon = span >= CONFIRM_S and len(points) >= CONFIRM_READINGS
        if not soon and span < SLOW_CONFIRM_S:
            return None
        line = Line.through(points)
        if line.is_straight(resolution_kg):
            return line
        points = points[1:]
    return None
