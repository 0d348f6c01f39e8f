"""The way from the devices to the listener: delay, loss, and backlog after an outage."""

from __future__ import annotations

import heapq
import random
from collections.abc import Iterator
from dataclasses import dataclass

from fillmark.wire.senml import Record
from fillmark_sim.scenario import Radio

LEAST_DELAY_S = 0.01
PACK_GAP_S = 0.15


@dataclass(frozen=True, slots=True)
class Pack:
    """Records that arrive together, and when (Unix s)."""

    arrival_s: float
    records: tuple[Record, ...]


class RadioModel:
    """Keeps what is on its way, in order of arrival."""

    def __init__(self, data: Radio, rng: random.Random) -> None:
        self._data = data
        self._rng = rng
        self._flying: list[tuple[float, int, tuple[Record, ...]]] = []
        self._number = 0
        self._held: list[Record] = []

    def send(self, time_s: float, records: tuple[Record, ...]) -> None:
        """Send at a time (Unix s)."""
        delay = max(LEAST_DELAY_S, self._rng.gauss(self._data.delay_s, self._data.scatter_s))
        self._fly(time_s + delay, records)

    def hold(self, records: tuple[Record, ...]) -> None:
        """Keep during an outage."""
        self._held.extend(records)

    def release(self, time_s: float) -> None:
        """The outage is over: send what was kept, oldest first, in a few packs."""
        size = self._data.backlog_records
        for start in range(0, len(self._held), size):
            self._fly(time_s + 0.3 + PACK_GAP_S * (start // size), tuple(self._held[start : start + size]))
        self._held.clear()

    def arrived(self, time_s: float) -> Iterator[Pack]:
        """What has arrived by now, in order."""
        while self._flying and self._flying[0][0] <= time_s:
            arrival_s, _, records = heapq.heappop(self._flying)
            yield Pack(round(arrival_s, 3), records)

    def _fly(self, arrival_s: float, records: tuple[Record, ...]) -> None:
        heapq.heappush(self._flying, (arrival_s, self._number, records))
        self._number += 1
