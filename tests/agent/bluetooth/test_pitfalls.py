"""What really happens to Bluetooth links; each pitfall has a test named after it."""

from __future__ import annotations

import asyncio
import itertools
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager
from typing import Any

import pytest
from bleak.backends.scanner import BaseBleakScanner
from bleak.exc import BleakDBusError, BleakError

from fillmark_agent.bluetooth.device import BluetoothDevice
from fillmark_agent.bluetooth.life import Phase
from fillmark_sim.bluetooth.adapter import Adapter
from fillmark_sim.bluetooth.air import Air
from fillmark_sim.bluetooth.instruments import FINE_MASS, Probe, Scale
from fillmark_sim.bluetooth.peripheral import Broadcaster, Card

Until = Callable[..., Any]
Run = Callable[..., AbstractAsyncContextManager[Any]]
MakeDriver = Callable[..., BluetoothDevice]
Care = Any  # the fixture that remembers what was asked for
Table = dict[str, Any]
SENSOR = "D0:00:00:00:00:01"
TEMPERATURE = {"offset": 0, "format": "sint16", "scale": 0.01, "unit": "Cel"}


@pytest.fixture
async def sensor(air: Air) -> Broadcaster:
    made = Broadcaster(air, Card("SIM-AIR", SENSOR))
    await made.power_on()
    return made


@pytest.fixture
def sensor_table() -> Table:
    return {
        "driver": "bluetooth-broadcast", "name": "vent", "address": SENSOR,
        "channels": [{"channel": "vent/temperature", "service_data": "181a", "layout": TEMPERATURE}],
    }  # fmt: skip


async def test_a_link_drop_loses_nothing_that_came_before_and_is_mended_without_a_search(
    scale: Scale, scale_table: Table, adapter: Adapter, driver: MakeDriver, running: Run, until: Until
) -> None:
    async with running(driver(scale_table)) as log:
        for session in range(3):
            await until(lambda: scale.subscribed(scale.mass))
            for number in range(20):
                assert await scale.weigh(session + number / 1000)
            await scale.drop()
        await until(lambda: scale.subscribed(scale.mass))
        await until(lambda: len(log.values("scale/mass")) == 60)
        assert log.values("scale/mass") == [s + n / 1000 for s in range(3) for n in range(20)]
        assert (log.status.losses, log.status.faults) == (3, 0)
    assert adapter.scans == 1


async def test_subscriptions_are_renewed_at_every_connection(
    scale: Scale, scale_table: Table, driver: MakeDriver, running: Run, until: Until
) -> None:
    async with running(driver(scale_table)) as log:
        await until(lambda: scale.subscribed(scale.mass))
        await scale.drop()
        assert not scale.subscribed(scale.mass)
        await until(lambda: scale.subscribed(scale.mass))
        await scale.weigh(1.5)
        await until(lambda: log.values("scale/mass") == [1.5])


async def test_bluez_in_progress_is_waited_out(
    scale: Scale, scale_table: Table, adapter: Adapter, driver: MakeDriver, running: Run, until: Until
) -> None:
    busy = BleakDBusError("org.bluez.Error.InProgress", ["Operation already in progress"])
    adapter.fail_connect = [busy, busy]
    async with running(driver(scale_table)) as log:
        await until(lambda: scale.subscribed(scale.mass))
        assert log.status.faults == 0
    assert adapter.fail_connect == []


async def test_a_device_gone_when_scanning_stops_is_connected_while_scanning(
    scale: Scale, scale_table: Table, adapter: Adapter, driver: MakeDriver, running: Run, until: Until
) -> None:
    adapter.forgets = True
    async with running(driver(scale_table)):
        await until(lambda: scale.subscribed(scale.mass))
        await until(lambda: not adapter.searching)


async def test_a_stale_gatt_cache_is_cleared(
    scale: Scale, scale_table: Table, adapter: Adapter, care: Care, driver: MakeDriver, running: Run, until: Until
) -> None:
    adapter.hidden.add(FINE_MASS)
    care.on_forget = adapter.hidden.clear
    async with running(driver(scale_table)):
        await until(lambda: scale.subscribed(scale.mass))
    assert care.asked == [f"forget {scale.card.address}"]


async def test_a_silent_link_that_nobody_reports_is_found_by_asking(
    scale: Scale, scale_table: Table, air: Air, driver: MakeDriver, running: Run, until: Until
) -> None:
    device = driver(scale_table)
    async with running(device) as log:
        await until(lambda: device.life.phase is Phase.OPEN)
        air.muffled.add(scale.card.address)
        await until(lambda: log.status.problem is not None)
        assert "does not answer" in log.status.problem
        assert log.status.losses == 0 or log.status.state.value != "streaming"
        air.muffled.clear()
        air.supervision_timeout(scale.card.address)
        await scale.advertise()
        await until(lambda: scale.subscribed(scale.mass))
        await scale.weigh(1.5)
        await until(lambda: log.values("scale/mass") == [1.5])


async def test_a_quiet_device_that_answers_keeps_its_link(
    scale: Scale, scale_table: Table, driver: MakeDriver, running: Run, until: Until
) -> None:
    async with running(driver(scale_table)) as log:
        await until(lambda: scale.subscribed(scale.mass))
        await asyncio.sleep(1.3)  # more than twice the time after which it is asked
        await scale.weigh(1.5)
        await until(lambda: log.values("scale/mass") == [1.5])
        assert (log.status.losses, log.status.problem) == (0, None)


async def test_a_device_that_always_sends_is_dropped_when_its_data_is_too_old(
    scale: Scale, scale_table: Table, driver: MakeDriver, running: Run, until: Until
) -> None:
    scale_table["interval_s"] = 0.01
    async with running(driver(scale_table), silent_at_least_s=0.1) as log:
        await until(lambda: scale.subscribed(scale.mass))
        await scale.weigh(1.5)
        await until(lambda: log.status.silences >= 1)
        assert "silent for" in (log.status.problem or "silent for")


async def test_a_subscription_that_is_lost_while_others_live_is_renewed(
    probe: Probe, driver: MakeDriver, running: Run, until: Until
) -> None:
    table = {
        "driver": "bluetooth", "name": "low", "address": probe.card.address,
        "channels": [
            {"channel": "low/pressure", "characteristic": "2a6d"},
            {"channel": "low/temperature", "characteristic": "2a6e", "interval_s": 0.01},
        ],
    }  # fmt: skip
    async with running(driver(table)) as log:
        while log.status.losses == 0:  # only the pressure speaks
            await probe.press(3e5)
            await asyncio.sleep(0.01)
        assert "nothing of bay-1/low/temperature" in log.status.problem
        await until(lambda: probe.subscribed(probe.temperature))
        await probe.warm(21.0)
        await until(lambda: log.values("low/temperature") == [21.0])


async def test_a_peer_out_of_range_is_lost_by_supervision_timeout_and_found_again(
    scale: Scale, scale_table: Table, air: Air, driver: MakeDriver, running: Run, until: Until
) -> None:
    async with running(driver(scale_table)) as log:
        await until(lambda: scale.subscribed(scale.mass))
        await scale.weigh(1.0)
        await until(lambda: log.values("scale/mass") == [1.0])
        air.supervision_timeout(scale.card.address)
        await scale.hide()
        await until(lambda: "does not advertise" in (log.status.problem or ""))
        await scale.advertise()
        await until(lambda: scale.subscribed(scale.mass))
        await scale.weigh(2.0)
        await until(lambda: log.values("scale/mass") == [1.0, 2.0])


async def test_a_link_left_behind_by_a_dead_process_is_released(
    scale: Scale, scale_table: Table, care: Care, driver: MakeDriver, running: Run, until: Until
) -> None:
    await scale.hide()
    care.on_release = scale.advertise
    async with running(driver(scale_table)):
        await until(lambda: scale.subscribed(scale.mass))
    assert care.asked == [f"release {scale.card.address}"]


async def test_macos_uuids_instead_of_addresses_fall_back_to_the_name(
    scale: Scale, scale_table: Table, air: Air, driver: MakeDriver, running: Run, until: Until
) -> None:
    air.names_by_uuid = True
    async with running(driver(scale_table)) as log:
        await until(lambda: log.status.problem is not None)
        assert "is an identifier of another system; bind the device again here" in log.status.problem
    async with running(driver(scale_table | {"local_name": "SIM-SCALE"})):
        await until(lambda: scale.subscribed(scale.mass))
    await scale.drop()
    identifier = air.identifier(scale.device.random_address)
    async with running(driver(scale_table | {"address": identifier.lower()})):
        await until(lambda: scale.subscribed(scale.mass))


async def test_deduplicated_advertisements_are_made_to_come_again(
    sensor: Broadcaster, sensor_table: Table, air: Air, driver: MakeDriver, running: Run, until: Until
) -> None:
    air.deduplicates = True
    await sensor.say(service=0x181A, data=b"\xd0\x07")
    async with running(driver(sensor_table | {"interval_s": 0.02}), silent_at_least_s=0.1) as log:
        await until(lambda: len(log.values("vent/temperature")) >= 3)
        assert log.status.silences >= 2
    assert set(log.values("vent/temperature")) == {20.0}


async def test_an_advertisement_heard_many_times_is_one_value(
    sensor: Broadcaster, sensor_table: Table, driver: MakeDriver, running: Run, until: Until
) -> None:
    await sensor.say(service=0x181A, data=b"\xd0\x07")
    async with running(driver(sensor_table)) as log:
        await until(lambda: bool(log.values("vent/temperature")))
        await sensor.say(service=0x181A, data=b"\xd1\x07")
        await until(lambda: 20.01 in log.values("vent/temperature"))
        times = [record.time_s for record in log.records if record.name == "bay-1/vent/temperature"]
    # The last of them is another value and may follow at once.
    assert all(later - earlier >= 0.15 for earlier, later in itertools.pairwise(times[:-1]))


async def test_an_adapter_that_cannot_listen_is_tried_again(
    scale: Scale, scale_table: Table, adapter: Adapter, driver: MakeDriver, running: Run, until: Until,
    monkeypatch: pytest.MonkeyPatch,
) -> None:  # fmt: skip
    real, failures = adapter.scanner.start, [BleakError("the adapter is off"), OSError("no bus")]

    async def start(scanner: BaseBleakScanner) -> None:
        if failures:
            raise failures.pop()
        await real(scanner)

    monkeypatch.setattr(adapter.scanner, "start", start)
    async with running(driver(scale_table)) as log:
        await until(lambda: scale.subscribed(scale.mass))
        assert log.status.faults == 0
    assert failures == []


async def test_two_devices_share_one_search_and_connect_in_turn(
    scale: Scale, scale_table: Table, sensor: Broadcaster, sensor_table: Table, probe: Probe, adapter: Adapter,
    driver: MakeDriver, running: Run, until: Until,
) -> None:  # fmt: skip
    await sensor.say(service=0x181A, data=b"\xd0\x07")
    low = {
        "driver": "bluetooth", "name": "low", "address": probe.card.address,
        "channels": [{"channel": "low/pressure", "characteristic": "2a6d"}],
    }  # fmt: skip
    async with running(driver(sensor_table)) as log, running(driver(scale_table)), running(driver(low)):
        await until(lambda: scale.subscribed(scale.mass) and probe.subscribed(probe.pressure))
        await until(lambda: bool(log.values("vent/temperature")))
        assert adapter.searching
    assert not adapter.searching
