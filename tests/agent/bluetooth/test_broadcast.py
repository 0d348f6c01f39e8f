"""Sensors that only broadcast, heard while another device is connected."""

from __future__ import annotations

import struct
from collections.abc import Callable
from contextlib import AbstractAsyncContextManager, AsyncExitStack
from functools import partial
from typing import Any

import pytest
from pydantic import ValidationError

from fillmark_agent.bluetooth.table import BroadcastTable
from fillmark_agent.device import Device
from fillmark_sim.bluetooth.air import Air
from fillmark_sim.bluetooth.instruments import Scale
from fillmark_sim.bluetooth.peripheral import Broadcaster, Card

Until = Callable[..., Any]
Run = Callable[..., AbstractAsyncContextManager[Any]]
MakeDriver = Callable[..., Device]
Table = dict[str, Any]


def table(number: int) -> Table:
    temperature = {"offset": 1, "format": "sint16", "scale": 0.01, "unit": "Cel", "starts_with": f"{number:02x}"}
    humidity = {"offset": 3, "format": "uint8", "unit": "%RH", "unknown": 255, "starts_with": f"{number:02x}"}
    return {
        "driver": "bluetooth-broadcast", "name": f"air-{number}", "address": f"D0:00:00:00:00:0{number}",
        "channels": [
            {"channel": f"air-{number}/temperature", "manufacturer": 0xFFFF, "layout": temperature},
            {"channel": f"air-{number}/humidity", "manufacturer": 0xFFFF, "layout": humidity},
        ],
    }  # fmt: skip


def all_have(logs: list[Any], temperature_c: float) -> bool:
    return all(temperature_c in log.values(f"air-{number}/temperature") for number, log in enumerate(logs))


async def test_three_sensors_are_heard_while_a_scale_is_connected(
    air: Air, scale: Scale, scale_table: Table, driver: MakeDriver, running: Run, until: Until
) -> None:
    sensors = [Broadcaster(air, Card(f"SIM-AIR-{n}", f"D0:00:00:00:00:0{n}")) for n in range(3)]
    for sensor in sensors:
        await sensor.power_on()
    async with AsyncExitStack() as stack:
        mass = await stack.enter_async_context(running(driver(scale_table)))
        logs = [await stack.enter_async_context(running(driver(table(n)))) for n in range(3)]
        await until(lambda: scale.subscribed(scale.mass))
        for step in range(4):
            for number, sensor in enumerate(sensors):
                await sensor.say(maker=0xFFFF, data=struct.pack("<BhB", number, 2000 + step, 40 + step))
            await scale.weigh(1.0 + step)
            await until(partial(all_have, logs, 20.0 + step / 100))
        await until(lambda: len(mass.values("scale/mass")) == 4)
    for number, log in enumerate(logs):
        assert sorted(set(log.values(f"air-{number}/temperature"))) == [20.0, 20.01, 20.02, 20.03]
        assert sorted(set(log.values(f"air-{number}/humidity"))) == [40.0, 41.0, 42.0, 43.0]
        assert len(log.values(f"air-{number}/rssi")) == 1


async def test_a_sensor_that_does_not_know_or_speaks_short_is_an_event(
    air: Air, driver: MakeDriver, running: Run, until: Until
) -> None:
    sensor = Broadcaster(air, Card("SIM-AIR", "D0:00:00:00:00:00"))
    await sensor.power_on()
    await sensor.say(maker=0xFFFF, data=struct.pack("<BhB", 0, 2000, 255))
    async with running(driver(table(0))) as log:
        await until(lambda: bool(log.values("air-0/temperature")))
        await sensor.say(maker=0xFFFF, data=b"\0\xd0")
        await until(lambda: bool(log.values("air-0/temperature/fault")))
        await sensor.say(maker=0xFFFF, data=b"\7")
        await sensor.say(maker=0xFFFE, data=b"\0\0\0\0")
        await sensor.say(service=0x181A, data=b"\0\0\0\0")
        await sensor.say(maker=0xFFFF, data=struct.pack("<BhB", 0, 2001, 41))
        await until(lambda: 20.01 in log.values("air-0/temperature"))
    assert set(log.values("air-0/temperature")) == {20.0, 20.01}
    assert [str(v).partition(":")[0] for v in log.values("air-0/temperature/fault")] == ["truncated", "none"]
    assert [str(v).partition(":")[0] for v in log.values("air-0/humidity/fault")] == ["unknown", "truncated", "none"]
    assert set(log.values("air-0/humidity")) == {41.0}


async def test_a_sensor_that_is_not_there_is_said_to_be_missing(driver: MakeDriver, running: Run, until: Until) -> None:
    async with running(driver(table(0))) as log:
        await until(lambda: log.status.problem is not None)
    assert log.status.problem == "D0:00:00:00:00:00 does not advertise now"


@pytest.mark.parametrize("places", [{}, {"manufacturer": 1, "service_data": "181a"}])
def test_the_bytes_come_from_one_place(places: Table) -> None:
    wrong = table(0)
    wrong["channels"][0] = {"channel": "a/temperature", "layout": wrong["channels"][0]["layout"]} | places
    with pytest.raises(ValidationError, match="give either service_data or manufacturer"):
        BroadcastTable.model_validate(wrong)
