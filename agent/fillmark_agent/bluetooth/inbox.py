"""What has arrived over a link and waits to be decoded, in order, with the time of its arrival."""

from __future__ import annotations

import asyncio
from collections import deque
from dataclasses import dataclass, field

MOST = 20_000


@dataclass(frozen=True, slots=True)
class Arrival:
    """Bytes of one source.

    Attributes:
        source: handle of the characteristic, or index of the channel.
        payload: the bytes.
        time_s: Unix seconds of arrival.
    """

    source: int
    payload: bytes
    time_s: float


@dataclass(slots=True)
class Inbox:
    """A bounded queue that remembers that the link has ended, and how many arrivals were too many."""

    most: int = MOST
    overrun: int = 0
    ended: bool = False
    reason: str = ""
    _waiting: deque[Arrival] = field(default_factory=deque)
    _news: asyncio.Event = field(default_factory=asyncio.Event)

    def put(self, arrival: Arrival) -> None:
        """Keep an arrival; the oldest goes when there are too many."""
        if len(self._waiting) >= self.most:
            self._waiting.popleft()
            self.overrun += 1
        self._waiting.append(arrival)
        self._news.set()

    def end(self, reason: str) -> None:
        """Nothing more will come. What waits can still be taken."""
        if not self.ended:
            self.ended, self.reason = True, reason
        self._news.set()

    async def take(self, most: int, within_s: float) -> list[Arrival]:
        """What waits, at least one unless the link has ended, at most `most`.

        Raises:
            TimeoutError: nothing came within so many real seconds.
        """
        if not self._waiting and not self.ended:
            async with asyncio.timeout(within_s):
                while not self._waiting and not self.ended:
                    self._news.clear()
                    await self._news.wait()
        return [self._waiting.popleft() for _ in range(min(most, len(self._waiting)))]
