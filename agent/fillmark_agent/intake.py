"""Where the packs of all devices meet on their way to the spool. Whatever is waiting shares one transaction."""

from __future__ import annotations

import asyncio

from fillmark_agent.async_spool import AsyncSpool
from fillmark_agent.device import Pack

_MOST_WAITING = 4000
_MOST_AT_ONCE = 1000


class Intake:
    """A bounded queue with one writer. A device waits here when the disk is slow; its samples are stamped already."""

    def __init__(self, spool: AsyncSpool) -> None:
        self._spool = spool
        self._queue: asyncio.Queue[Pack] = asyncio.Queue(_MOST_WAITING)

    async def put(self, pack: Pack) -> None:
        """Hand over one pack."""
        await self._queue.put(pack)

    async def run(self) -> None:
        """Write to the spool until cancelled."""
        while True:
            packs = [await self._queue.get()]
            while len(packs) < _MOST_AT_ONCE and not self._queue.empty():
                packs.append(self._queue.get_nowait())
            await self._spool.append(packs)
            for _ in packs:
                self._queue.task_done()

    async def flushed(self) -> None:
        """Wait until everything handed over is in the spool."""
        await self._queue.join()
