"""A device whose library only knows how to wait: a thread waits, the loop gets what came and when.

* What arrives is stamped in the thread, so that a busy loop never moves its time.
* The device is closed by the thread that reads it, never under it.
* Where the loop is slow the thread waits for it; nothing is thrown away here.
"""

from __future__ import annotations

import asyncio
import threading
from collections.abc import AsyncIterator
from concurrent.futures import CancelledError
from contextlib import suppress
from typing import Protocol

from fillmark.wire.clock import Clock
from fillmark_agent.device import LinkLostError

_WAITING = 256
Arrival = tuple[float, bytes]


class BlockingPort(Protocol):
    """An open device."""

    def read(self) -> bytes:
        """What came, or nothing after a fraction of a second.

        Raises:
            OSError: the device is gone.
        """
        ...

    def close(self) -> None:
        """Let the device go."""
        ...


class PortReader:
    """Reads an open port in a thread until it is stopped."""

    def __init__(self, port: BlockingPort, clock: Clock, name: str) -> None:
        self._port = port
        self._clock = clock
        self._loop = asyncio.get_running_loop()
        self._queue: asyncio.Queue[Arrival | OSError] = asyncio.Queue(_WAITING)
        self._stopping = threading.Event()
        self._ended = asyncio.Event()
        self._thread = threading.Thread(target=self._run, name=f"reader of {name}", daemon=True)
        self._thread.start()

    async def arrivals(self) -> AsyncIterator[Arrival]:
        """What came, each with its time in Unix seconds.

        Raises:
            LinkLostError: the device is gone.
        """
        while True:
            came = await self._queue.get()
            if isinstance(came, OSError):
                raise LinkLostError(f"the device is gone ({came})") from came
            yield came

    async def stop(self) -> None:
        """Stop reading and close the port; returns when the thread has let it go."""
        self._stopping.set()
        while not self._ended.is_set():
            while not self._queue.empty():  # the thread may wait for room
                self._queue.get_nowait()
            with suppress(TimeoutError):
                async with asyncio.timeout(0.02):
                    await self._ended.wait()

    def _run(self) -> None:
        try:
            while not self._stopping.is_set():
                data = self._port.read()
                if data:
                    self._put((self._clock.now_s(), data))
        except OSError as error:
            self._put(error)
        except Exception as error:  # noqa: BLE001 - a library's own errors must not leave a link that is silent for ever
            self._put(OSError(repr(error)))
        finally:
            with suppress(OSError):
                self._port.close()
            with suppress(RuntimeError):  # the loop is closed: nobody waits
                self._loop.call_soon_threadsafe(self._ended.set)

    def _put(self, came: Arrival | OSError) -> None:
        coming = self._queue.put(came)
        try:
            asyncio.run_coroutine_threadsafe(coming, self._loop).result()
        except (RuntimeError, CancelledError):  # the loop is closed: nobody waits
            coming.close()
            self._stopping.set()
