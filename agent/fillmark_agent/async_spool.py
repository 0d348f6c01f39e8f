"""The spool for asyncio: one thread of its own does the writing, so that a slow disk never holds up a radio."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from typing import ParamSpec, TypeVar

from fillmark.wire.senml import Record
from fillmark_agent.spool import Refused, Row, Spool, SpoolStats

P = ParamSpec("P")
T = TypeVar("T")


class AsyncSpool:
    """The calls of `Spool`, in order, in one thread.

    Attributes:
        fresh: set after every append; whoever waits for new packs clears it.
        empty: set while nothing waits.
    """

    def __init__(self, spool: Spool) -> None:
        self._spool = spool
        self._thread = ThreadPoolExecutor(1, "spool")
        self.fresh = asyncio.Event()
        self.empty = asyncio.Event()
        self._see_whether_empty()

    @property
    def stats(self) -> SpoolStats:
        """The counts after the last call."""
        return self._spool.stats

    async def append(self, packs: Sequence[Sequence[Record]]) -> None:
        """See `Spool.append`."""
        await self._call(self._spool.append, packs)
        self._see_whether_empty()
        self.fresh.set()

    async def peek(self, records: int, size: int, before_s: float) -> tuple[Row, ...]:
        """See `Spool.peek`."""
        return await self._call(self._spool.peek, records, size, before_s)

    async def settle(self, rows: Sequence[Row], refused: Sequence[Refused] = ()) -> None:
        """See `Spool.settle`."""
        await self._call(self._spool.settle, rows, refused)
        self._see_whether_empty()

    async def close(self) -> None:
        """Write what is left and close."""
        await self._call(self._spool.close)
        self._thread.shutdown()

    def _see_whether_empty(self) -> None:
        if self.stats.records:
            self.empty.clear()
        else:
            self.empty.set()

    async def _call(self, function: Callable[P, T], /, *args: P.args, **kwargs: P.kwargs) -> T:
        loop = asyncio.get_running_loop()
        return await loop.run_in_executor(self._thread, lambda: function(*args, **kwargs))
