"""A radio in memory: peripherals, the agent's radio on the same air, and a driver under its supervisor."""

from __future__ import annotations

import asyncio
import random
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager, suppress
from dataclasses import dataclass, field
from typing import Any

import pytest

from fillmark.wire.clock import Clock
from fillmark.wire.senml import Record
from fillmark_agent.backoff import Backoff
from fillmark_agent.bluetooth.broadcast import BroadcastDevice
from fillmark_agent.bluetooth.device import BluetoothDevice, Waits
from fillmark_agent.bluetooth.radio import Radio
from fillmark_agent.bluetooth.table import BluetoothTable, BroadcastTable
from fillmark_agent.device import Device, Pack
from fillmark_agent.supervisor import Patience, Supervisor
from fillmark_sim.bluetooth.adapter import Adapter
from fillmark_sim.bluetooth.air import Air
from fillmark_sim.bluetooth.instruments import ENVIRONMENT, FINE_MASS, WEIGHT_SCALE, Probe, Scale
from fillmark_sim.bluetooth.peripheral import Card

AMPLE_S = 20.0
SCALE, PROBE = "F0:F1:F2:F3:F4:F5", "F0:F1:F2:F3:F4:A0"
WAITS = Waits(search_s=0.8, connect_s=3.0, brief_s=0.8, quiet_s=0.5, answer_s=1.5, channel_s=0.4)


@dataclass
class RecordingCare:
    """Remembers what was asked of the system's memory."""

    asked: list[str] = field(default_factory=list)
    on_forget: Callable[[], None] = lambda: None
    on_release: Callable[[], Awaitable[None]] | None = None

    async def forget(self, address: str) -> None:
        self.asked.append(f"forget {address}")
        self.on_forget()

    async def release(self, address: str) -> None:
        self.asked.append(f"release {address}")
        if self.on_release is not None:
            await self.on_release()


@dataclass
class Log:
    """What a driver gave, in the place of the spool."""

    records: list[Record] = field(default_factory=list)
    status: Any = None

    async def put(self, pack: Pack) -> None:
        self.records.extend(pack)

    def values(self, channel: str) -> list[float | bool | str | None]:
        """Values of a channel below the bay."""
        name = f"bay-1/{channel}"
        found = [r for r in self.records if r.name == name]
        return [r.value if r.value is not None else r.flag if r.flag is not None else r.text for r in found]


Until = Callable[..., Any]
Run = Callable[..., AbstractAsyncContextManager[Log]]


@pytest.fixture
def air() -> Air:
    return Air()


@pytest.fixture
async def adapter(air: Air) -> Adapter:
    made = Adapter(air)
    await made.power_on()
    return made


@pytest.fixture
def care() -> RecordingCare:
    return RecordingCare()


@pytest.fixture
def radio(adapter: Adapter, care: RecordingCare) -> Radio:
    return Radio(adapter.scanner, adapter.client, care)


@pytest.fixture
async def scale(air: Air) -> Scale:
    made = Scale(air, Card("SIM-SCALE", SCALE, (WEIGHT_SCALE,)))
    await made.power_on()
    return made


@pytest.fixture
async def probe(air: Air) -> Probe:
    made = Probe(air, Card("SIM-PROBE", PROBE, (ENVIRONMENT,)))
    await made.power_on()
    return made


@pytest.fixture
def scale_table() -> dict[str, Any]:
    """The scale as a user declares it: its own fine mass."""
    return {
        "driver": "bluetooth",
        "name": "scale",
        "address": SCALE,
        "channels": [{"channel": "scale/mass", "characteristic": FINE_MASS}],
    }


@pytest.fixture
def until() -> Until:
    """Waits for a condition on the loop, at most AMPLE_S: `await until(lambda: …)`."""

    async def wait(condition: Callable[[], bool]) -> None:
        async with asyncio.timeout(AMPLE_S):
            while not condition():  # noqa: ASYNC110 - the condition is the peripheral's, which has no event
                await asyncio.sleep(0.002)

    return wait


@pytest.fixture
def driver(radio: Radio) -> Callable[..., Device]:
    """Makes the driver of a table, with short waits."""

    def make(table: dict[str, Any], clock: Clock | None = None, waits: Waits = WAITS) -> Device:
        if table["driver"] == "bluetooth":
            return BluetoothDevice(BluetoothTable.model_validate(table), clock or Clock(), radio, waits=waits)
        return BroadcastDevice(BroadcastTable.model_validate(table), clock or Clock(), radio, waits=waits)

    return make


@pytest.fixture
def running() -> Run:
    """Runs a driver under its supervisor and gives what came: `async with running(device) as log`."""

    @asynccontextmanager
    async def run(device: Device, **patience: float) -> AsyncIterator[Log]:
        log = Log()
        supervisor = Supervisor(
            device, log, Patience(**({"silent_at_least_s": 0.3} | patience)), Backoff(cap_s=0.5, rng=random.Random(1))  # type: ignore[arg-type]  # the log stands in for the intake
        )  # fmt: skip
        log.status = supervisor.status
        task = asyncio.create_task(supervisor.run())
        try:
            yield log
        finally:
            task.cancel()
            with suppress(asyncio.CancelledError):
                await task

    return run
