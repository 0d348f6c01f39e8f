"""What a Bluetooth notification costs through agent and service, beside a bare callback of bleak.

`python tests/benchmarks/notification_cost.py [seconds]`. Both run in one process, over the same peripheral and the same
stack in memory, at 1,000 notifications a second:

* the yardstick is a callback of bleak that counts;
* the other is the whole way: driver, edge, spool on disk, uplink, service with its log on disk and an open job.

Reported are the processor's time for each notification and its ratio, how late the last value is in the log, and how
memory grows from a quarter of the run to its end: neither agent nor service may keep anything. The service is told to
keep so few readings for what comes late that it has them by then. The ratio can be compared between machines.
"""

from __future__ import annotations

import asyncio
import gc
import logging
import sys
import tempfile
import time
import tracemalloc
from dataclasses import dataclass, field
from pathlib import Path

import httpx
from bleak import BleakClient, BleakScanner

from fillmark.api.app import create_app
from fillmark.api.settings import Settings
from fillmark.wire.clock import Clock
from fillmark_agent.bluetooth.device import BluetoothDevice
from fillmark_agent.bluetooth.radio import NoCare, Radio
from fillmark_agent.bluetooth.table import BluetoothTable
from fillmark_agent.config_file import parse
from fillmark_agent.run import run
from fillmark_sim.bluetooth.adapter import Adapter
from fillmark_sim.bluetooth.air import Air
from fillmark_sim.bluetooth.instruments import Probe
from fillmark_sim.bluetooth.peripheral import Card

RATE_HZ = 1000
SECONDS = 20
BURST = 10
WARM_UP_S = 1.0
ADDRESS = "F0:00:00:00:02:01"
OPEN = {
    "circuit": {"refrigerant": "R-134a", "charge_min": "480 g", "charge_max": "520 g", "volume": "2.4 L"},
    "aim": "mid", "hose": {"length": "1.8 m", "bore": "4.8 mm"}, "scale": {"resolution": "1 g", "class": "III"},
}  # fmt: skip
TABLE = '[[devices]]\ndriver = "simulated"\nname = "unused"\nscenario = "harvester-clean"\n[log]\nlevel = "error"\n'
RECENT = 2000
"""Readings that the service keeps, of an open job and of the times of a channel."""
AGENT_GROWTH_BELOW = 200_000
SERVICE_GROWTH_BELOW = 10.0
"""Bytes a reading. One that is kept takes some 100."""
LAG_BELOW_S = 2.0


@dataclass(frozen=True)
class Heap:
    """Bytes that were allocated in each part's own code and are still in use."""

    agent: int
    service: int

    @classmethod
    def now(cls) -> Heap:
        """Measure."""
        gc.collect()
        rows = tracemalloc.take_snapshot().statistics("filename")
        agent, service = (
            sum(row.size for row in rows if f"/{part}/" in row.traceback[0].filename)
            for part in ("fillmark_agent", "service/fillmark")
        )
        return cls(agent, service)


@dataclass
class Rig:
    """The probe, and the adapter that hears it."""

    adapter: Adapter = field(default_factory=lambda: Adapter(Air()))
    probe: Probe = field(init=False)

    async def begin(self) -> None:
        """Switch on."""
        self.probe = Probe(self.adapter.air, Card("PROBE", ADDRESS, (0x181A,)))
        await self.adapter.power_on()
        await self.probe.power_on()

    async def subscribed(self) -> None:
        """Wait for a subscriber."""
        while not self.probe.subscribed(self.probe.pressure):  # noqa: ASYNC110 - the peripheral has no event for it
            await asyncio.sleep(0.01)

    async def send(self, seconds: float, heap: list[Heap] | None = None) -> float:
        """Send at the rate; returns the processor's seconds for each notification. Notes the heap at a quarter."""
        begun, used = time.perf_counter(), time.process_time()
        count = round(RATE_HZ * seconds)
        for number in range(count):
            await self.probe.press(200_000.0 + number / 10)
            if number % BURST == 0:
                await asyncio.sleep(max(0.0, begun + number / RATE_HZ - time.perf_counter()))
            if heap is not None and number == count // 4:
                heap.append(Heap.now())
        return (time.process_time() - used) / count


async def bare(seconds: float) -> float:
    """The yardstick."""
    rig, seen = Rig(), 0
    await rig.begin()

    def count(*_: object) -> None:
        nonlocal seen
        seen += 1

    found = await BleakScanner.find_device_by_address(ADDRESS, backend=rig.adapter.scanner)
    if found is None:
        raise RuntimeError("the probe was not heard")
    async with BleakClient(found, backend=rig.adapter.client) as client:
        await client.start_notify("2a6d", count)
        cost_s = await rig.send(seconds)
        while seen < RATE_HZ * seconds:  # noqa: ASYNC110 - the callback only counts
            await asyncio.sleep(0.001)
    return cost_s


async def whole(folder: Path, seconds: float, heap: list[Heap] | None) -> tuple[float, float, int]:
    """The whole way: seconds for each notification, lag of the last value, values in the log."""
    rig, clock, stop = Rig(), Clock(), asyncio.Event()
    await rig.begin()
    settings = Settings(database=folder / "log.sqlite", warm_up=False, recent_events=RECENT, times_in_memory=RECENT)
    app = create_app(settings, clock=clock)
    transport = httpx.ASGITransport(app=app)
    channel = {"channel": "low/pressure", "characteristic": "2a6d"}
    table = {"driver": "bluetooth", "name": "low", "address": ADDRESS, "channels": [channel]}
    device = BluetoothDevice(
        BluetoothTable.model_validate(table), clock, Radio(rig.adapter.scanner, rig.adapter.client, NoCare())
    )
    config = parse(TABLE, folder / "bay.toml", {})
    async with (
        app.router.lifespan_context(app),
        httpx.AsyncClient(transport=transport, base_url="http://localhost", timeout=60.0) as http,
    ):
        (await http.post("/v1/jobs?bay=bay-1", json=OPEN)).raise_for_status()
        agent = asyncio.create_task(run(config, clock=clock, stop=stop, devices=[device], transport=transport))
        await rig.subscribed()
        cost_s = await rig.send(seconds, heap)
        ended = time.perf_counter()
        await arrived(http, 200_000.0 + (round(RATE_HZ * seconds) - 1) / 10)
        lag_s = time.perf_counter() - ended
        if heap is not None:
            heap.append(Heap.now())
        stop.set()
        status = await agent
        return cost_s, lag_s, status.sent.accepted


async def arrived(http: httpx.AsyncClient, last_pa: float) -> None:
    """Wait until the service shows the last value, and has it on the disk."""
    while True:
        view = (await http.get("/v1/jobs/bay-1.1")).json()
        health = (await http.get("/health")).json()
        shown = view["readings"].get("low/pressure", {}).get("value")
        if shown is not None and abs(shown - last_pa) < 0.01 and health["durable_position"] >= view["position"]:
            return
        await asyncio.sleep(0.01)


async def measure(seconds: float) -> int:
    """Run both and print."""
    logging.disable(logging.WARNING)
    with tempfile.TemporaryDirectory() as folder:
        await whole(Path(folder), WARM_UP_S, None)  # loads the fluids' properties
    yardstick_s = await bare(seconds)
    with tempfile.TemporaryDirectory() as folder:
        cost_s, lag_s, count = await whole(Path(folder), seconds, None)
    heap: list[Heap] = []
    tracemalloc.start()
    with tempfile.TemporaryDirectory() as folder:
        await whole(Path(folder), seconds, heap)
    tracemalloc.stop()
    quarter, end = heap
    each = (end.service - quarter.service) / (0.75 * RATE_HZ * seconds)
    sys.stdout.write(
        f"{count} readings in the log at {RATE_HZ}/s: {cost_s * 1e6:.0f} µs of processor a notification, bare callback "
        f"{yardstick_s * 1e6:.0f} µs, ratio {cost_s / yardstick_s:.2f}\n"
        f"last value in the log after {lag_s:.2f} s\n"
        f"memory from a quarter to the end: agent {(end.agent - quarter.agent) / 1e3:+.1f} kB; "
        f"service {each:+.0f} bytes a reading\n"
    )
    flat = end.agent - quarter.agent < AGENT_GROWTH_BELOW and each < SERVICE_GROWTH_BELOW
    return 0 if flat and lag_s < LAG_BELOW_S else 1


if __name__ == "__main__":
    raise SystemExit(asyncio.run(measure(float(sys.argv[1]) if len(sys.argv) > 1 else SECONDS)))
