"""Tells those who wait that something has changed. What has changed they look up themselves.

Nobody has a queue: a slow reader finds the newest state when it comes back, and costs the others nothing.
"""

from __future__ import annotations

import asyncio


class Pulse:
    """A beat that wakes all who wait for it."""

    def __init__(self) -> None:
        self._waiting: set[asyncio.Future[None]] = set()
        self.stopped = False

    def beat(self) -> None:
        """Wake everybody."""
        waiting, self._waiting = self._waiting, set()
        for future in waiting:
            if not future.done():
                future.set_result(None)

    def stop(self) -> None:
        """Wake everybody for the last time; from now on nobody waits."""
        self.stopped = True
        self.beat()

    async def wait(self, timeout_s: float) -> bool:
        """Wait for the next beat. False when `timeout_s` real seconds passed without one."""
        if self.stopped:
            return True
        future = asyncio.get_running_loop().create_future()
        self._waiting.add(future)
        try:
            async with asyncio.timeout(timeout_s):
                await future
        except TimeoutError:
            return False
        finally:
            self._waiting.discard(future)
        return True
