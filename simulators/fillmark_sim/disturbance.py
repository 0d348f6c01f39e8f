"""What goes wrong, and when, counted from the first flow of refrigerant."""

from __future__ import annotations

import math
from collections.abc import Iterator

from fillmark_sim.scenario import Event, EventKind

BUMP_HZ = 2.3
BUMP_DECAY_S = 0.5
IN_THE_FLOW: frozenset[EventKind] = frozenset({"pinch", "turned", "stall", "hand"})
"""Events that reach into the way of the refrigerant."""

HAND_SWAYS_HZ = ((0.11, 0.3), (0.9, 0.1))
"""How the pressure of a hand wavers: frequency, and share of its mean. A judgement."""


class Disturbances:
    """The scenario's events on the bay's clock."""

    def __init__(self, events: tuple[Event, ...]) -> None:
        self._events = events
        self.in_the_flow = any(one.kind in IN_THE_FLOW for one in events)
        self._begun_s: dict[int, float] = {}
        self._released: set[int] = set()

    def begin(self, time_s: float) -> None:
        """Refrigerant flows for the first time: the clock starts of those events that wait for nothing else."""
        for index, one in enumerate(self._events):
            if one.at_kg is None and not one.at_swap:
                self._begun_s.setdefault(index, time_s)

    def charged(self, charged_kg: float, time_s: float) -> None:
        """So much is in the circuit: the clock starts of those events that wait for it."""
        for index, one in enumerate(self._events):
            if one.at_kg is not None and charged_kg >= one.at_kg:
                self._begun_s.setdefault(index, time_s)

    def lifted(self, time_s: float) -> None:
        """A container is taken off: the clock starts of those events that wait for a swap."""
        for index, one in enumerate(self._events):
            if one.at_swap:
                self._begun_s.setdefault(index, time_s)

    def active(self, kind: EventKind, time_s: float, device: str = "scale") -> bool:
        """Whether such an event is on now."""
        return any(
            one.kind == kind and one.device == device and _on(one, since) for _, one, since in self._running(time_s)
        )

    def ended(self, kind: EventKind, device: str, time_s: float) -> bool:
        """Whether such an event has ended since this was asked last."""
        over = {
            index
            for index, one, since in self._running(time_s)
            if one.kind == kind and one.device == device and since >= one.lasts_s and index not in self._released
        }
        self._released |= over
        return bool(over)

    def opening(self, time_s: float) -> float:
        """Share of the port's opening that is left."""
        shares = [one.share for _, one, since in self._running(time_s) if one.kind == "pinch" and _on(one, since)]
        return min(shares, default=1.0)

    def shift_s(self, time_s: float) -> float:
        """How far the scale's clock is ahead."""
        return sum(one.shift_s for _, one, since in self._running(time_s) if one.kind == "clock" and _on(one, since))

    def load_kg(self, time_s: float) -> float:
        """What presses on the pan besides the container."""
        total = 0.0
        for _, one, since in self._running(time_s):
            if not _on(one, since):
                continue
            if one.kind in ("tug", "tool"):
                total += one.amount_kg * (min(1.0, since / one.ramp_s) if one.ramp_s > 0.0 else 1.0)
            elif one.kind == "bump":
                swing = math.cos(2.0 * math.pi * BUMP_HZ * since) * math.exp(-since / BUMP_DECAY_S)
                total += one.amount_kg * swing
            elif one.kind == "hand":
                sway = sum(share * math.sin(2.0 * math.pi * hz * since) for hz, share in HAND_SWAYS_HZ)
                total += one.amount_kg * (1.0 + sway)
        return total

    def _running(self, time_s: float) -> Iterator[tuple[int, Event, float]]:
        """Events whose clock runs, and how long they have been due, s (below 0: not yet)."""
        for index, begun_s in self._begun_s.items():
            one = self._events[index]
            yield index, one, time_s - begun_s - one.after_s


def _on(one: Event, since_s: float) -> bool:
    return 0.0 <= since_s < one.lasts_s
