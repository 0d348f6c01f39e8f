"""Half an hour of simulated time: three peripherals, random drops, the whole agent, a service with its log on disk.

Every value that a peripheral sent to a subscriber is in the service's log once, in order; and data is back soon after a
drop. The clock runs faster than life; the links, their losses and the waits between attempts take real seconds.
"""

from __future__ import annotations

import asyncio
import logging
import random
import statistics
from collections.abc import Awaitable, Callable
from dataclasses import dataclass, field
from pathlib import Path

import httpx

from fillmark.api.app import create_app
from fillmark.api.settings import Settings
from fillmark.wire.clock import Clock
from fillmark.wire.senml import Record, decode
from fillmark_agent.bluetooth.device import BluetoothDevice
from fillmark_agent.bluetooth.radio import NoCare, Radio
from fillmark_agent.bluetooth.table import BluetoothTable
from fillmark_agent.config_file import parse
from fillmark_agent.run import run
from fillmark_sim.bluetooth.adapter import Adapter
from fillmark_sim.bluetooth.air import Air
from fillmark_sim.bluetooth.instruments import FINE_MASS, Probe, Scale
from fillmark_sim.bluetooth.peripheral import Card, Peripheral

_LOG = logging.getLogger(__name__)
HALF_HOUR_S = 1800.0
SPEED = 150.0
AMPLE_S = 110.0
MEDIAN_BELOW_S = 2.0
DROPS_A_MINUTE = 0.6
OPEN = {
    "circuit": {"refrigerant": "R-134a", "charge_min": "480 g", "charge_max": "520 g", "volume": "2.4 L"},
    "aim": "mid", "hose": {"length": "1.8 m", "bore": "4.8 mm"}, "scale": {"resolution": "1 g", "class": "III"},
}  # fmt: skip
TABLE = '[[devices]]\ndriver = "simulated"\nname = "unused"\nscenario = "harvester-clean"\n[log]\nlevel = "error"\n'


@dataclass
class Sender:
    """One peripheral that sends a value of its own at every turn, and now and then loses its link."""

    channel: str
    peripheral: Peripheral
    send: Callable[[float], Awaitable[bool]]
    first: float
    step: float
    every_s: float
    sent: list[float] = field(default_factory=list)
    dropped_at_s: list[float] = field(default_factory=list)

    async def run(self, clock: Clock, air: Air, rng: random.Random) -> None:
        begun_s, turns = clock.now_s(), round(HALF_HOUR_S / self.every_s)
        for turn in range(turns):
            left_s = begun_s + turn * self.every_s - clock.now_s()
            await asyncio.sleep(clock.real_s(max(left_s, 0.0)))
            value = round(self.first + self.step * turn, 6)
            if await self.send(value):
                self.sent.append(value)
            if self.peripheral.connected and rng.random() < DROPS_A_MINUTE * self.every_s / 60.0:
                await self.lose_link(clock, air, rng)

    async def lose_link(self, clock: Clock, air: Air, rng: random.Random) -> None:
        for _ in range(4):  # what is in the air when a link is cut is lost in life too; here it has landed
            await asyncio.sleep(0)
        self.dropped_at_s.append(clock.now_s())
        if rng.random() < 0.5:
            await self.peripheral.drop()
        else:
            air.supervision_timeout(self.peripheral.card.address)


def made(air: Air) -> list[Sender]:
    scale = Scale(air, Card("SCALE", "F0:00:00:00:01:01", (0x181D,)))
    low = Probe(air, Card("LOW", "F0:00:00:00:01:02", (0x181A,)))
    suction = Probe(air, Card("SUCTION", "F0:00:00:00:01:03", (0x181A,)))
    return [
        Sender("scale/mass", scale, scale.weigh, 10.0, 0.0001, 0.5),
        Sender("low/pressure", low, low.press, 200_000.0, 0.1, 1.0),
        Sender("suction/temperature", suction, suction.warm, -5.0, 0.01, 1.0),
    ]


def driver(sender: Sender, clock: Clock, radio: Radio) -> BluetoothDevice:
    uuid = {"mass": FINE_MASS, "pressure": "2a6d", "temperature": "2a6e"}[sender.channel.rpartition("/")[2]]
    table = {
        "driver": "bluetooth", "name": sender.peripheral.card.name, "address": sender.peripheral.card.address,
        "channels": [{"channel": sender.channel, "characteristic": uuid}],
    }  # fmt: skip
    return BluetoothDevice(BluetoothTable.model_validate(table), clock, radio)


async def on_air(clock: Clock, transport: httpx.ASGITransport, folder: Path) -> list[Sender]:
    """Run agent and peripherals for the half hour; returns what was sent."""
    air = Air()
    adapter = Adapter(air)
    await adapter.power_on()
    radio, stop = Radio(adapter.scanner, adapter.client, NoCare()), asyncio.Event()
    senders = made(air)
    for sender in senders:
        await sender.peripheral.power_on()
    devices = [driver(sender, clock, radio) for sender in senders]
    config = parse(TABLE, folder / "bay.toml", {})
    agent = asyncio.create_task(run(config, clock=clock, stop=stop, devices=devices, transport=transport))
    await asyncio.gather(*(sender.run(clock, air, random.Random(sender.channel)) for sender in senders))
    stop.set()
    status = await agent
    assert (status.spool.records, status.spool.refused, status.spool.lost) == (0, 0, 0)
    assert [link.faults for link in status.links] == [0, 0, 0]
    return senders


async def logged(http: httpx.AsyncClient) -> list[Record]:
    """What the service's log has, from its own export."""
    (job,) = (await http.get("/v1/jobs")).json()["jobs"]
    answer = await http.get(f"/v1/jobs/{job['job']}/log", params={"format": "stream"})
    return [record for line in answer.text.splitlines() for record in decode(line, now_s=0.0)]


async def test_every_value_sent_is_logged_once_and_data_is_back_soon_after_a_drop(tmp_path: Path) -> None:
    clock = Clock(speed=SPEED)
    app = create_app(Settings(database=tmp_path / "log.sqlite", warm_up=False), clock=clock)
    transport = httpx.ASGITransport(app=app)
    async with (
        asyncio.timeout(AMPLE_S),
        app.router.lifespan_context(app),
        httpx.AsyncClient(transport=transport, base_url="http://localhost", timeout=30.0) as http,
    ):
        (await http.post("/v1/jobs?bay=bay-1", json=OPEN)).raise_for_status()
        senders = await on_air(clock, transport, tmp_path)
        records = await logged(http)
    waits_s = []
    for sender in senders:
        ours = [record for record in records if record.name == f"bay-1/{sender.channel}"]
        assert [record.value for record in ours] == sender.sent
        assert len({record.time_s for record in ours}) == len(ours)
        assert len(sender.dropped_at_s) >= 3
        for at_s in sender.dropped_at_s:
            waits_s += [clock.real_s(record.time_s - at_s) for record in ours if record.time_s > at_s][:1]
    _LOG.info(
        "%d values, %d drops, data back after %.3f s in the median, %.3f s at most",
        sum(len(sender.sent) for sender in senders), len(waits_s), statistics.median(waits_s), max(waits_s),
    )  # fmt: skip
    assert len(waits_s) >= 12
    assert statistics.median(waits_s) < MEDIAN_BELOW_S
    assert not [record for record in records if record.name.endswith("/fault")]
