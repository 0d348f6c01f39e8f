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
        """Send readings at a time (Unix s). They may stray, and may come twice."""
        data = self._data
        self._fly(time_s + self._delay_s() + self._strays_s(), records)
        if data.twice > 0.0 and self._rng.random() < data.twice:
            self._fly(time_s + self._delay_s() + self._strays_s(), records)

    def tell(self, time_s: float, record: Record) -> None:
        """Send an action at a time (Unix s). It waits for its answer, so it neither strays nor comes twice."""
        self._fly(time_s + self._delay_s(), (record,))

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

    def _delay_s(self) -> float:
        return max(LEAST_DELAY_S, self._rng.gauss(self._data.delay_s, self._data.scatter_s))

    def _strays_s(self) -> float:
        if self._data.stray == 0.0 or self._rng.random() >= self._data.stray:
            return 0.0
        return self._rng.uniform(0.0, self._data.stray_s)

    def _fly(self, arrival_s: float, records: tuple[Record, ...]) -> None:
        heapq.heappush(self._flying, (arrival_s, self._number, records))
        self._number += 1
