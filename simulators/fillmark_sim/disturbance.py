"""What goes wrong, and when, counted from the first flow of refrigerant."""

from __future__ import annotations

import math

from fillmark_sim.scenario import Event, EventKind

BUMP_HZ = 2.3
BUMP_DECAY_S = 0.5


class Disturbances:
    """The scenario's events on the bay's clock."""

    def __init__(self, events: tuple[Event, ...]) -> None:
        self._events = events
        self._begin_s: float | None = None
        self._released: set[int] = set()

    def begin(self, time_s: float) -> None:
        """Refrigerant flows for the first time: the events' clock starts."""
        self._begin_s = time_s

    def active(self, kind: EventKind, time_s: float, device: str = "scale") -> bool:
        """Whether such an event is on now."""
        if self._begin_s is None:
            return False
        since = time_s - self._begin_s
        return any(
            one.kind == kind and one.device == device and one.after_s <= since < one.after_s + one.lasts_s
            for one in self._events
        )

    def ended(self, kind: EventKind, device: str, time_s: float) -> bool:
        """Whether such an event has ended since this was asked last."""
        if self._begin_s is None:
            return False
        over = {
            index
            for index, one in enumerate(self._events)
            if one.kind == kind
            and one.device == device
            and time_s - self._begin_s >= one.after_s + one.lasts_s
            and index not in self._released
        }
        self._released |= over
        return bool(over)

    def load_kg(self, time_s: float) -> float:
        """What presses on the pan besides the container."""
        if self._begin_s is None or not self._events:
            return 0.0
        total = 0.0
        for one in self._events:
            since = time_s - self._begin_s - one.after_s
            if not 0.0 <= since < one.lasts_s:
                continue
            if one.kind in ("tug", "tool"):
                total += one.amount_kg
            elif one.kind == "bump":
                swing = math.cos(2.0 * math.pi * BUMP_HZ * since) * math.exp(-since / BUMP_DECAY_S)
                total += one.amount_kg * swing
        return total
