"""A device that drops, goes silent, hides, hangs or crashes is connected again; nobody else notices."""

from __future__ import annotations

import asyncio
import random
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass, field

import pytest

from fillmark.wire.senml import Record
from fillmark_agent.async_spool import AsyncSpool
from fillmark_agent.backoff import Backoff
from fillmark_agent.device import (
    DeviceBrokenError,
    DeviceInfo,
    DeviceNotFoundError,
    LinkLostError,
    Pack,
    Sleep,
)
from fillmark_agent.intake import Intake
from fillmark_agent.supervisor import LinkState, Patience, Supervisor

SILENCE = "silence"
HEARD = "heard"
END = "end"
Step = Exception | str | int


@dataclass
class ScriptedDevice:
    """Each session is a list: a number of samples, then silence, an end, or an error."""

    sessions: list[list[Step]]
    interval_s: float | None = None
    find_errors: list[Exception] = field(default_factory=list)
    calls: list[str] = field(default_factory=list)
    made: int = 0

    @property
    def info(self) -> DeviceInfo:
        battery = 80.0 if "connect" in self.calls else None
        return DeviceInfo("scale", ("bay-1/scale/mass",), self.interval_s, battery)

    async def find(self) -> None:
        self.calls.append("find")
        if self.find_errors:
            raise self.find_errors.pop(0)

    async def connect(self) -> None:
        self.calls.append("connect")

    async def samples(self) -> AsyncIterator[Pack]:
        for step in self.sessions.pop(0):
            if isinstance(step, Exception):
                raise step
            if step == SILENCE:
                await asyncio.Event().wait()
            if step == HEARD:
                yield ()
            for _ in range(step if isinstance(step, int) else 0):
                self.made += 1
                yield (Record("bay-1/scale/mass", 1.8e9 + self.made, unit="kg", value=1.0),)

    async def disconnect(self) -> None:
        self.calls.append("disconnect")


@pytest.fixture
async def intake(async_spool: AsyncSpool) -> AsyncIterator[Intake]:
    made = Intake(async_spool)
    task = asyncio.create_task(made.run())
    yield made
    await made.flushed()
    task.cancel()
    with suppress(asyncio.CancelledError):
        await task


@pytest.fixture
def supervise(intake: Intake, sleep: Sleep) -> Callable[[ScriptedDevice], Supervisor]:
    def make(device: ScriptedDevice) -> Supervisor:
        patience = Patience(silent_intervals=3.0, silent_at_least_s=0.02, connect_s=0.05, disconnect_s=0.02)
        return Supervisor(device, intake, patience, Backoff(rng=random.Random(1)), sleep)

    return make


@asynccontextmanager
async def running(supervisor: Supervisor) -> AsyncIterator[None]:
    task = asyncio.create_task(supervisor.run())
    try:
        yield
    finally:
        task.cancel()
        with suppress(asyncio.CancelledError):
            await task


Supervise = Callable[[ScriptedDevice], Supervisor]


async def test_a_dropped_link_is_found_and_connected_again(
    supervise: Supervise, async_spool: AsyncSpool, intake: Intake
) -> None:
    device = ScriptedDevice([[5, LinkLostError("dropped")], [3, LinkLostError("dropped")], [2, END]])
    supervisor = supervise(device)
    await supervisor.run()
    await intake.flushed()
    assert device.calls == ["find", "connect", "disconnect"] * 3
    assert async_spool.stats.records == supervisor.status.records == 10
    assert (supervisor.status.losses, supervisor.status.state) == (2, LinkState.ENDED)


async def test_a_silent_link_is_dropped_after_so_many_intervals(supervise: Supervise) -> None:
    device = ScriptedDevice([[4, SILENCE], [1, END]], interval_s=0.01)
    supervisor = supervise(device)
    async with asyncio.timeout(2):
        await supervisor.run()
    assert device.calls == ["find", "connect", "disconnect"] * 2
    assert (supervisor.status.silences, supervisor.status.losses, supervisor.status.records) == (1, 1, 5)


async def test_an_empty_pack_keeps_the_link_and_notes_nothing(supervise: Supervise, async_spool: AsyncSpool) -> None:
    class Murmuring(ScriptedDevice):
        async def samples(self) -> AsyncIterator[Pack]:
            async for pack in super().samples():
                yield pack
                await asyncio.sleep(0.05)

    device = Murmuring([[2, *[HEARD] * 12, END]], interval_s=0.01)  # 0.7 s of it
    supervisor = supervise(device)
    supervisor.patience = Patience(silent_intervals=5.0, silent_at_least_s=0.4)
    await supervisor.run()
    assert (supervisor.status.silences, supervisor.status.losses) == (0, 0)
    assert supervisor.status.records == 2
    assert async_spool.stats.records <= 2


async def test_a_device_without_a_rhythm_may_be_silent(supervise: Supervise) -> None:
    device = ScriptedDevice([[1, SILENCE]])
    supervisor = supervise(device)
    async with running(supervisor):
        await asyncio.sleep(0.08)
        assert supervisor.status.state is LinkState.STREAMING
        assert supervisor.status.battery_percent == 80.0
    assert device.calls == ["find", "connect", "disconnect"]


async def test_waits_grow_until_a_sample_arrives_not_until_a_connection(
    supervise: Supervise, slept: list[float]
) -> None:
    flaps: list[list[Step]] = [[LinkLostError("dropped at once")] for _ in range(12)]
    device = ScriptedDevice([*flaps, [1, LinkLostError("dropped")], [END]])
    await supervise(device).run()
    assert all(wait <= min(10.0, 0.25 * 2**n) for n, wait in enumerate(slept[:12]))
    assert max(slept[5:12]) > 2.0
    assert slept[12] <= 0.25


async def test_a_device_that_is_not_there_is_looked_for_again(
    supervise: Supervise, caplog: pytest.LogCaptureFixture
) -> None:
    missing: list[Exception] = [DeviceNotFoundError("does not advertise") for _ in range(4)]
    device = ScriptedDevice([[2, END]], find_errors=missing)
    supervisor = supervise(device)
    await supervisor.run()
    assert device.calls.count("find") == 5
    assert supervisor.status.losses == 0
    assert caplog.text.count("does not advertise") == 1


async def test_a_driver_that_hangs_while_connecting_is_given_up_and_tried_again(supervise: Supervise) -> None:
    class Hanging(ScriptedDevice):
        async def connect(self) -> None:
            await super().connect()
            if self.calls.count("connect") == 1:
                await asyncio.Event().wait()

    device = Hanging([[1, END]])
    supervisor = supervise(device)
    async with asyncio.timeout(2):
        await supervisor.run()
    assert device.calls == ["find", "connect", "disconnect"] * 2


@pytest.mark.parametrize("swallows", ["connect", "disconnect"])
async def test_a_driver_that_loses_a_cancellation_is_stopped_all_the_same(supervise: Supervise, swallows: str) -> None:
    reached = asyncio.Event()

    class Swallowing(ScriptedDevice):
        async def connect(self) -> None:
            await super().connect()
            await self.pass_by("connect")

        async def disconnect(self) -> None:
            await super().disconnect()
            await self.pass_by("disconnect")

        async def pass_by(self, where: str) -> None:
            if where == swallows and not reached.is_set():
                reached.set()
                with suppress(asyncio.CancelledError):
                    await asyncio.Event().wait()

    device = Swallowing([[1, LinkLostError("dropped")], [1, SILENCE]])
    task = asyncio.create_task(supervise(device).run())
    async with asyncio.timeout(2):
        await reached.wait()
        task.cancel()
        with pytest.raises(asyncio.CancelledError):
            await task
    assert device.calls == ["find", "connect", "disconnect"]


async def test_a_driver_with_a_bug_is_treated_as_a_loss(supervise: Supervise, caplog: pytest.LogCaptureFixture) -> None:
    class Clumsy(ScriptedDevice):
        async def disconnect(self) -> None:
            await super().disconnect()
            raise KeyError("no such handle")

    device = Clumsy([[1, ZeroDivisionError("bug")], [1, END]])
    supervisor = supervise(device)
    await supervisor.run()
    assert (supervisor.status.faults, supervisor.status.records) == (1, 2)
    assert "ZeroDivisionError" in caplog.text
    assert "failed to let go" in caplog.text


async def test_a_broken_device_is_given_up(supervise: Supervise) -> None:
    device = ScriptedDevice([[2, DeviceBrokenError("line 3 cannot be read")]])
    supervisor = supervise(device)
    await supervisor.run()
    assert (supervisor.status.state, supervisor.status.problem) == (LinkState.BROKEN, "line 3 cannot be read")
    assert device.calls[-1] == "disconnect"


@pytest.mark.parametrize("moment", [0.0, 0.01])
async def test_a_stop_lets_the_device_go(supervise: Supervise, moment: float) -> None:
    device = ScriptedDevice([[3, SILENCE]])
    async with running(supervise(device)):
        await asyncio.sleep(moment)
    assert device.calls == [] or device.calls[-1] == "disconnect"
