"""How long the valve took to be shut after each close call of a job, read from what the log holds.

The close call multiplies the reaction time by the flow. So it is measured as what that product stands for: what still
ran out of the container after the call, over the flow at the call, less the scale's lag

    reaction = (m(call) - m(settled)) / flow - lag                                                              (1)

A valve that is entered as shut before the scale sees the flow end is taken at its word: what leaves the container then
fills the hose, as in the account. One that is entered late, as most are, is corrected by (1). Without a valve in the
log nobody knows whether a hand or an empty can ended the flow, and nothing is counted.

Indications are put on the service's clock as if the fastest of them took no time (`delay`), so clocks that are apart do
not matter. What the fastest did take makes the reaction so much longer, and the call that much early. The way of the
call to the display is in the reaction as well.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from statistics import fmean

from fillmark.engine.events import Fact, Reading, SetValve
from fillmark.engine.reaction import LEAST_S, MOST_S
from fillmark.engine.weighing.line import Line, Points

ENTERED_WITHIN_S = 60.0
"""Who enters a valve later did not shut it for the call."""

EVERY_S = 0.05
BEFORE_S = 5.0
LEAST_POINTS = 4
"""No more indications are kept than one so often; so many of the last seconds before the call make its flow."""

LEVEL_S = 5.0
LEVEL_STEPS = 2.0
FLOWS_STEPS = 5.0
"""A scale is at rest when its line moves by no more steps in so long; a flow must move it by more in that time."""


@dataclass(frozen=True, slots=True)
class Closing:
    """A valve shut on a call: when it was called (service's clock, Unix s), and how long that took, s."""

    called_s: float
    reaction_s: float


@dataclass(frozen=True, slots=True)
class Call:
    """A call that may still be followed.

    Attributes:
        at_s: when it was raised.
        late_s: receipt less measurement of the fastest indication.
        points: what the scale showed from BEFORE_S before it on.
        entered_s: when a valve was entered as shut after it.
        emptied: whether a container was found empty before that.
    """

    at_s: float
    late_s: float
    points: Points
    entered_s: float | None = None
    emptied: bool = False

    def showing(self, point: tuple[float, float]) -> Call:
        """The call after one more indication."""
        wanted = point[0] + self.late_s <= self.at_s + MOST_S + LEVEL_S
        return replace(self, points=(*self.points, point)) if wanted else self

    def entered(self, time_s: float) -> Call:
        """The call after a valve was entered as shut; the first counts."""
        first = self.entered_s is None and self.at_s <= time_s <= self.at_s + ENTERED_WITHIN_S
        return replace(self, entered_s=time_s) if first else self

    def closing(self, resolution_kg: float, lag_s: float) -> Closing | None:
        """The closing, where one is sure, by a scale of that step and lag."""
        if self.entered_s is None or self.emptied:
            return None
        reaction_s = self.entered_s - self.at_s
        seen_s = self._seen_s(resolution_kg, lag_s)
        if seen_s is not None:
            reaction_s = min(reaction_s, seen_s)
        return Closing(self.at_s, reaction_s) if LEAST_S <= reaction_s <= MOST_S else None

    def _seen_s(self, step_kg: float, lag_s: float) -> float | None:
        """The reaction by (1), s; None where the scale cannot tell."""
        points = sorted((time_s + self.late_s, kg) for time_s, kg in self.points)
        before = tuple(point for point in points if self.at_s - BEFORE_S <= point[0] <= self.at_s)
        if len(before) < LEAST_POINTS:
            return None
        line = Line.through(before)
        if not line.is_straight(step_kg) or line.flow_kg_s * LEVEL_S < FLOWS_STEPS * step_kg:
            return None
        level_kg = _level_kg(tuple(point for point in points if point[0] > self.at_s), step_kg)
        return None if level_kg is None else (line.at(self.at_s) - level_kg) / line.flow_kg_s - lag_s


@dataclass(frozen=True, slots=True)
class CallWatch:
    """What a job remembers to see how fast its valve is shut: the scale's last seconds, and the last call.

    It follows the order of the log, as the calls do.
    """

    recent: Points = ()
    call: Call | None = None
    closings: tuple[Closing, ...] = ()

    def heard(self, items: Iterable[Reading | Fact]) -> CallWatch:
        """The watch after more readings and actions."""
        recent, call = self.recent, self.call
        for item in items:
            if isinstance(item, Reading):
                if item.channel == "scale/mass" and not (recent and 0.0 <= item.time_s - recent[-1][0] < EVERY_S):
                    point = (item.time_s, item.value)
                    recent = (*recent, point)
                    call = None if call is None else call.showing(point)
            elif isinstance(item, SetValve) and not item.open and call is not None:
                call = call.entered(item.time_s)
        if recent is self.recent and call is self.call:
            return self
        while recent and recent[0][0] < recent[-1][0] - BEFORE_S:
            recent = recent[1:]
        return replace(self, recent=recent, call=call)

    def called(self, at_s: float, late_s: float) -> CallWatch:
        """The watch once a call was raised."""
        return replace(self, call=Call(at_s, late_s, self.recent))

    def emptied(self) -> CallWatch:
        """The watch once a container was found empty: what ended the flow then is not known."""
        if self.call is None or self.call.entered_s is not None:
            return self
        return replace(self, call=replace(self.call, emptied=True))

    def concluded(self, resolution_kg: float, lag_s: float) -> CallWatch:
        """The watch once the last call is over, with its closing, if that is sure."""
        found = None if self.call is None else self.call.closing(resolution_kg, lag_s)
        return replace(self, call=None, closings=self.closings if found is None else (*self.closings, found))


NO_CALLS = CallWatch()


def _level_kg(points: Points, resolution_kg: float) -> float | None:
    """What the scale shows where it first comes to rest, kg."""
    for first, (begins_s, _) in enumerate(points):
        window = tuple(point for point in points[first:] if point[0] <= begins_s + LEVEL_S)
        if points[-1][0] < begins_s + LEVEL_S or len(window) < LEAST_POINTS:
            return None
        line = Line.through(window)
        if line.is_straight(resolution_kg) and abs(line.flow_kg_s) * LEVEL_S <= LEVEL_STEPS * resolution_kg:
            return fmean(kg for _, kg in window[len(window) // 2 :])
    return None
