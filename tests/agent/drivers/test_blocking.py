"""A port that a thread reads: in order, stamped on arrival, let go by the thread itself, never silent by mistake."""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Callable

import pytest

from fillmark.wire.clock import Clock
from fillmark_agent.device import LinkLostError
from fillmark_agent.drivers.blocking import PortReader

PATIENCE_S = 20.0


class Port:
    """Gives numbered bytes, then an error, or nothing for ever."""

    def __init__(self, count: int, error: Exception | None = None) -> None:
        self.left = count
        self.error = error
        self.closed_by: int | None = None

    def read(self) -> bytes:
        if self.left > 0:
            self.left -= 1
            return self.left.to_bytes(2, "big")
        if self.error is not None:
            raise self.error
        time.sleep(0.002)
        return b""

    def close(self) -> None:
        self.closed_by = threading.get_ident()


MakeReader = Callable[[Port], PortReader]


async def numbers(reader: PortReader, count: int) -> list[int]:
    found: list[int] = []
    async with asyncio.timeout(PATIENCE_S):
        async for _, data in reader.arrivals():
            found.append(int.from_bytes(data, "big"))
            if len(found) == count:
                break
    return found


async def test_everything_comes_in_order_also_to_a_slow_reader(clock: Clock) -> None:
    reader = PortReader(Port(1000), clock, "port")
    await asyncio.sleep(0.02)  # the thread has run into the limit of what may wait
    assert await numbers(reader, 1000) == list(reversed(range(1000)))
    await reader.stop()


@pytest.mark.parametrize("error", [OSError("unplugged"), ZeroDivisionError("a bug"), ValueError("closed")])
async def test_any_error_of_the_library_is_a_loss_after_what_came_before(clock: Clock, error: Exception) -> None:
    reader = PortReader(Port(3, error), clock, "port")
    assert await numbers(reader, 3) == [2, 1, 0]
    with pytest.raises(LinkLostError, match="the device is gone"):
        await numbers(reader, 1)
    await reader.stop()


@pytest.mark.parametrize("count", [0, 5000])
async def test_the_thread_itself_closes_the_port_before_stop_returns(clock: Clock, count: int) -> None:
    port = Port(count)
    reader = PortReader(port, clock, "port")
    async with asyncio.timeout(PATIENCE_S):
        await reader.stop()
        await reader.stop()
    assert port.closed_by not in {None, threading.get_ident()}


async def test_a_sample_is_stamped_when_it_arrives_not_when_the_loop_has_time(clock: Clock) -> None:
    reader = PortReader(Port(1), clock, "port")
    await asyncio.to_thread(time.sleep, 0.05)
    late_s = clock.now_s()
    async with asyncio.timeout(PATIENCE_S):
        time_s, _ = await anext(reader.arrivals())
    await reader.stop()
    assert time_s < late_s
