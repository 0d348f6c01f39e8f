"""bleak's own BlueZ backend against an org.bluez of ours on a private D-Bus, with the same peripherals in memory."""

from __future__ import annotations

import asyncio
import shutil
import struct
import subprocess
import sys
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import AbstractAsyncContextManager
from pathlib import Path
from typing import Any

import pytest

from fillmark_agent.bluetooth.device import BluetoothDevice, Waits
from fillmark_agent.bluetooth.life import Phase
from fillmark_agent.bluetooth.radio import Radio
from fillmark_sim.bluetooth.adapter import Adapter
from fillmark_sim.bluetooth.air import Air
from fillmark_sim.bluetooth.bluez import FakeBluez, RefusedError
from fillmark_sim.bluetooth.instruments import FINE_MASS, Scale
from fillmark_sim.bluetooth.peripheral import Broadcaster, Card

pytestmark = pytest.mark.skipif(
    sys.platform != "linux" or shutil.which("dbus-daemon") is None, reason="needs dbus-daemon on Linux"
)
Until = Callable[..., Any]
Run = Callable[..., AbstractAsyncContextManager[Any]]
MakeDriver = Callable[..., BluetoothDevice]
Table = dict[str, Any]
WAITS = Waits(search_s=0.8, connect_s=5.0, quiet_s=0.5, answer_s=1.5)
BUS = """\
<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN"
 "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig>
  <type>custom</type><listen>unix:path={socket}</listen><auth>EXTERNAL</auth>
  <policy context="default"><allow send_destination="*"/><allow receive_sender="*"/><allow own="*"/></policy>
</busconfig>
"""


@pytest.fixture
def system_bus(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A D-Bus that is nobody else's, in the place of the system's."""
    settings, socket = tmp_path / "bus.conf", tmp_path / "bus"
    settings.write_text(BUS.format(socket=socket), encoding="utf-8")
    command = ["dbus-daemon", f"--config-file={settings}", "--nofork", "--print-address"]
    with subprocess.Popen(command, stdout=subprocess.PIPE) as daemon:
        assert daemon.stdout is not None
        assert daemon.stdout.readline().startswith(b"unix:")
        monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", f"unix:path={socket}")
        yield
        daemon.terminate()


@pytest.fixture
async def bluez(system_bus: None, air: Air) -> AsyncIterator[FakeBluez]:
    del system_bus  # it must be there first
    made = FakeBluez(Adapter(air))
    await made.start()
    yield made
    await made.stop()


@pytest.fixture
def radio() -> Radio:
    """The agent's radio as it is in life: the system's backend of bleak, the care of BlueZ."""
    return Radio()


async def test_a_scale_is_found_connected_and_read_and_let_go(
    bluez: FakeBluez, scale: Scale, scale_table: Table, driver: MakeDriver, running: Run, until: Until
) -> None:
    scale_table["channels"].append({"channel": "coarse/mass", "characteristic": "2a9d"})
    async with running(driver(scale_table, waits=WAITS)) as log:
        await until(lambda: scale.subscribed(scale.weight))
        for number in range(50):
            await scale.weigh(1.0 + number / 1000)
        await until(lambda: len(log.values("coarse/mass")) == 50)
    assert log.values("scale/mass") == [round(1.0 + n / 1000, 4) for n in range(50)]
    assert log.values("coarse/mass")[-1] == 1.05
    assert log.values("scale/battery") == [87.0]
    assert not bluez.connected(scale.card.address)


async def test_a_broadcast_sensor_is_heard(
    bluez: FakeBluez, air: Air, driver: MakeDriver, running: Run, until: Until
) -> None:
    sensor = Broadcaster(air, Card("SIM-AIR", "D0:00:00:00:00:01"))
    await sensor.power_on()
    layout = {"offset": 0, "format": "sint16", "scale": 0.01, "unit": "Cel"}
    table = {
        "driver": "bluetooth-broadcast", "name": "vent", "address": "D0:00:00:00:00:01",
        "channels": [{"channel": "vent/temperature", "manufacturer": 0xFFFF, "layout": layout}],
    }  # fmt: skip
    async with running(driver(table, waits=WAITS)) as log:
        for number in range(3):
            await sensor.say(maker=0xFFFF, data=struct.pack("<h", 800 + number))
            await until(lambda number=number: (800 + number) / 100 in log.values("vent/temperature"))
    assert sorted(set(log.values("vent/temperature"))) == [8.0, 8.01, 8.02]
    assert "StopDiscovery" in bluez.calls


async def test_a_drop_is_mended_without_a_search(
    bluez: FakeBluez, scale: Scale, scale_table: Table, driver: MakeDriver, running: Run, until: Until
) -> None:
    async with running(driver(scale_table, waits=WAITS)) as log:
        for session in range(3):
            await until(lambda: scale.subscribed(scale.mass))
            await scale.weigh(1.0 + session)
            await until(lambda session=session: len(log.values("scale/mass")) == session + 1)
            await scale.drop()
        await until(lambda: scale.subscribed(scale.mass))
        assert log.status.faults == 0
    assert log.values("scale/mass") == [1.0, 2.0, 3.0]
    assert bluez.calls.count("StartDiscovery") == 1
    assert bluez.calls.count("StartNotify") == 4 * 2  # each link for mass and battery


async def test_bluez_in_progress_is_waited_out(
    bluez: FakeBluez, scale: Scale, scale_table: Table, driver: MakeDriver, running: Run, until: Until
) -> None:
    for member in ("StartDiscovery", "Connect"):
        busy = RefusedError("org.bluez.Error.InProgress", "Operation already in progress")
        bluez.refuse[member] = [busy]
    async with running(driver(scale_table, waits=WAITS)) as log:
        await until(lambda: scale.subscribed(scale.mass))
        assert log.status.faults == 0
    assert bluez.refuse == {"StartDiscovery": [], "Connect": []}


async def test_a_device_gone_when_scanning_stops_is_connected_while_scanning(
    bluez: FakeBluez, scale: Scale, scale_table: Table, driver: MakeDriver, running: Run, until: Until
) -> None:
    bluez.forgets = True
    device = driver(scale_table, waits=WAITS)
    async with running(device) as log:
        await until(lambda: device.life.phase is Phase.OPEN)
        await scale.weigh(1.5)
        await until(lambda: log.values("scale/mass") == [1.5])


async def test_a_stale_gatt_cache_is_cleared(
    bluez: FakeBluez, scale: Scale, scale_table: Table, driver: MakeDriver, running: Run, until: Until
) -> None:
    bluez.hidden.add(FINE_MASS)
    async with running(driver(scale_table, waits=WAITS)) as log:
        await until(lambda: scale.subscribed(scale.mass))
        await scale.weigh(1.5)
        await until(lambda: log.values("scale/mass") == [1.5])
    assert "RemoveDevice" in bluez.calls


async def test_a_link_left_behind_by_a_dead_process_is_released(
    bluez: FakeBluez, scale: Scale, scale_table: Table, driver: MakeDriver, running: Run, until: Until
) -> None:
    device = driver(scale_table, waits=WAITS)
    await device.find()
    await bluez.hold(scale.card.address)
    assert bluez.connected(scale.card.address)
    async with running(driver(scale_table, waits=WAITS)) as log:
        await until(lambda: scale.subscribed(scale.mass))
        assert log.status.faults == 0
    assert "Disconnect" in bluez.calls


async def test_a_silent_link_that_nobody_reports_is_found_by_asking(
    bluez: FakeBluez, scale: Scale, scale_table: Table, air: Air, driver: MakeDriver, running: Run, until: Until
) -> None:
    device = driver(scale_table, waits=WAITS)
    async with running(device) as log:
        await until(lambda: device.life.phase is Phase.OPEN)
        air.muffled.add(scale.card.address)
        await until(lambda: "does not answer" in (log.status.problem or ""))
        air.muffled.clear()
        air.supervision_timeout(scale.card.address)
        await until(lambda: scale.subscribed(scale.mass))
        await scale.weigh(1.5)
        await until(lambda: log.values("scale/mass") == [1.5])
    assert "ReadValue" in bluez.calls


async def test_an_adapter_that_is_off_is_said_and_used_when_it_is_on(
    bluez: FakeBluez, scale: Scale, scale_table: Table, driver: MakeDriver, running: Run, until: Until
) -> None:
    bluez.power(on=False)
    async with running(driver(scale_table, waits=WAITS)) as log:
        await until(lambda: log.status.problem is not None)
        assert "the Bluetooth adapter cannot listen" in log.status.problem
        bluez.power(on=True)
        await until(lambda: scale.subscribed(scale.mass))


@pytest.mark.usefixtures("system_bus")
async def test_a_system_without_bluez_is_said_to_be_so(
    scale_table: Table, driver: MakeDriver, running: Run, until: Until
) -> None:
    async with running(driver(scale_table, waits=WAITS)) as log:
        await until(lambda: log.status.problem is not None)
        await asyncio.sleep(0)
    assert "the Bluetooth adapter cannot listen" in log.status.problem
    assert log.status.faults == 0
