"""Which records the log already holds, so that a record sent twice changes nothing.

A reading costs eight bytes here: the times of each channel stand in one sorted array. Only the newest of a channel are
kept; what is older than all of them has to be looked up in the log. After a start from a snapshot that is everything up
to the newest record of each channel.
"""

from __future__ import annotations

import math
from array import array
from bisect import bisect_left, insort

from fillmark.store.log import Identity


class _Times:
    """Times of one channel in order. Below `floor_s` nothing is known here."""

    __slots__ = ("floor_s", "times")

    def __init__(self) -> None:
        self.times = array("d")
        self.floor_s = -math.inf

    def has(self, time_s: float) -> bool:
        index = bisect_left(self.times, time_s)
        return index < len(self.times) and self.times[index] == time_s

    def add(self, time_s: float, most: int) -> None:
        if not self.times or time_s > self.times[-1]:
            self.times.append(time_s)
        else:
            insort(self.times, time_s)
        if len(self.times) > most + most // 8:
            del self.times[: len(self.times) - most]
            self.floor_s = self.times[0]


class Known:
    """Identities of what is in the log or waits for it. `most` times are kept for each channel."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._channels: dict[str, _Times] = {}
        self._actions: set[Identity] = set()
        self._old: dict[Identity, int] = {}

    def forget_to(self, channel: str, time_s: float) -> None:
        """From now on only the log can tell of this channel up to this time."""
        self._channels.setdefault(channel, _Times()).floor_s = math.nextafter(time_s, math.inf)

    def has(self, identity: Identity) -> bool:
        """Whether it is known here."""
        if identity in self._old or identity in self._actions:
            return True
        times = self._channels.get(identity.channel)
        return not identity.mark and times is not None and times.has(identity.time_s)

    def unsure(self, identity: Identity) -> bool:
        """Whether only the log can tell."""
        times = self._channels.get(identity.channel)
        return times is not None and identity.time_s < times.floor_s

    def add(self, identity: Identity, position: int) -> None:
        """Remember it. Positions come in order."""
        if self.unsure(identity):
            self._old[identity] = position
        elif identity.mark:
            self._actions.add(identity)
        else:
            self._channels.setdefault(identity.channel, _Times()).add(identity.time_s, self._most)

    def settle(self, durable: int) -> None:
        """Up to this position the log can tell of all of which only the log can tell. Nobody may be asking it now."""
        while self._old:
            oldest = next(iter(self._old))
            if self._old[oldest] > durable:
                return
            del self._old[oldest]
