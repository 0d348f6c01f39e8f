"""Writes what waits to the log, in order. Whoever waits while the disk works shares the next commit.

When the disk fails, what waits keeps its order and is tried again; those who wait are told that it is not durable yet.
"""

from __future__ import annotations

import asyncio
import logging
from collections import deque
from collections.abc import Sequence

from fillmark.store.log import KeptAnswer, Log, LogEntry, LogError, LogUnavailableError

_LOG = logging.getLogger(__name__)
MOST_TOGETHER = 2000
FIRST_PAUSE_S = 0.1
LONGEST_PAUSE_S = 2.0


class Writer:
    """The one writer of a log.

    Attributes:
        durable: position up to which everything is on the disk.
        failure: why the last commit failed; None when it did not.
    """

    def __init__(self, log: Log, durable: int, most_entries: int, most_bytes: int) -> None:
        self.durable = durable
        self.failure: LogError | None = None
        self._log = log
        self._most_entries = most_entries
        self._most_bytes = most_bytes
        self._bytes = 0
        self._pending: deque[LogEntry] = deque()
        self._answers: deque[KeptAnswer] = deque()
        self._waiting: list[tuple[int, asyncio.Future[None]]] = []
        self._something = asyncio.Event()
        self._nothing = asyncio.Event()
        self._nothing.set()

    @property
    def pending(self) -> int:
        """Entries that are not on the disk."""
        return len(self._pending)

    @property
    def full(self) -> bool:
        """Whether too much waits already."""
        return len(self._pending) >= self._most_entries or self._bytes >= self._most_bytes

    def put(self, entries: Sequence[LogEntry], answer: KeptAnswer | None = None) -> None:
        """Hand over entries that follow the ones before. An answer belongs to the last of them."""
        self._pending.extend(entries)
        self._bytes += sum(len(entry.pack) for entry in entries)
        if answer is not None:
            self._answers.append(answer)
        self._nothing.clear()
        self._something.set()

    async def durable_to(self, position: int) -> None:
        """Wait until `position` is on the disk.

        Raises:
            LogError: the commit failed. It is tried again without asking.
        """
        if position <= self.durable:
            return
        future: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        self._waiting.append((position, future))
        await future

    async def drained(self, timeout_s: float) -> bool:
        """Wait until nothing waits; False when that took longer than `timeout_s`."""
        try:
            async with asyncio.timeout(timeout_s):
                await self._nothing.wait()
        except TimeoutError:
            return False
        return True

    async def run(self) -> None:
        """Write for ever."""
        pause = FIRST_PAUSE_S
        while True:
            await self._something.wait()
            try:
                await self._commit()
            except Exception as error:  # noqa: BLE001 - whatever it is, what waits must be kept and tried again
                self._failed(error)
                await asyncio.sleep(pause)
                pause = min(2.0 * pause, LONGEST_PAUSE_S)
            else:
                pause = FIRST_PAUSE_S

    async def _commit(self) -> None:
        if self.failure is not None:
            self._settle(await self._log.last_position())  # a commit can fail after it has reached the disk
        batch = [self._pending[index] for index in range(min(len(self._pending), MOST_TOGETHER))]
        if batch:
            last = batch[-1].position
            await self._log.append(batch, [answer for answer in self._answers if answer.position <= last])
            self._settle(last)
        if self.failure is not None:
            _LOG.warning("the log is written again, up to position %d", self.durable)
            self.failure = None

    def _settle(self, durable: int) -> None:
        """Everything up to `durable` is on the disk."""
        self.durable = max(self.durable, durable)
        while self._pending and self._pending[0].position <= durable:
            self._bytes -= len(self._pending.popleft().pack)
        while self._answers and self._answers[0].position <= durable:
            self._answers.popleft()
        waiting, self._waiting = self._waiting, []
        for position, future in waiting:
            if position > durable:
                self._waiting.append((position, future))
            elif not future.done():
                future.set_result(None)
        if not self._pending:
            self._something.clear()
            self._nothing.set()

    def _failed(self, error: Exception) -> None:
        named = error if isinstance(error, LogError) else LogUnavailableError(f"{type(error).__name__}: {error}")
        if self.failure is None or str(self.failure) != str(named):
            _LOG.error("the log cannot be written: %s", named)
        self.failure = named
        waiting, self._waiting = self._waiting, []
        for _, future in waiting:
            if not future.done():
                future.set_exception(named)
