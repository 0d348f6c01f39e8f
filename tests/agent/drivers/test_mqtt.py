"""Readings from a real broker, through its loss and return."""

from __future__ import annotations

import asyncio
import json
from typing import Any

import aiomqtt
import pytest

from fillmark.wire import extras
from fillmark.wire.clock import Clock
from fillmark.wire.senml import Record
from fillmark_agent.device import DeviceNotFoundError, LinkLostError
from fillmark_agent.drivers.mqtt import MqttDevice
from fillmark_agent.mqtt.table import MqttTable

Fake = Any
"""What a fixture made: its class is in conftest.py, which is not imported."""
TOPICS = [{"topic": "shop/scale", "channel": "scale/mass"}, {"topic": "shop/+/#"}]


def device(broker: Fake, clock: Clock, **keys: object) -> MqttDevice:
    given = {"driver": "mqtt", "name": "shop", "broker": broker.url, "topics": TOPICS, **keys}
    return MqttDevice(MqttTable.model_validate(given), clock)


async def publish(broker: Fake, *messages: tuple[str, object], retain: bool = False) -> None:
    async with aiomqtt.Client("127.0.0.1", broker.port) as client:
        for topic, pack in messages:
            await client.publish(topic, json.dumps(pack), qos=1, retain=retain)


async def take(made: MqttDevice, count: int) -> list[Record]:
    found: list[Record] = []
    async with asyncio.timeout(15.0):
        async for pack in made.samples():
            found += pack
            if len(found) >= count:
                break
    return found


async def test_topics_are_channels(broker: Fake, clock: Clock) -> None:
    made = device(broker, clock)
    await made.find()
    await made.connect()
    before_s = clock.now_s()
    mass = [{"n": "any", "u": "kg", "v": 1.214}]
    low = [{"n": "low/pressure", "u": "Pa", "v": 310000, "t": before_s - 60}]
    await publish(broker, ("shop/scale", mass), ("shop/probes/1", low), ("elsewhere", mass), ("shop/x", "no pack"))
    found = await take(made, 3)
    await made.disconnect()
    assert [(record.name, record.value) for record in found] == [
        ("bay-1/scale/mass", 1.214), ("bay-1/low/pressure", 310000.0), ("bay-1/shop/fault", None),
    ]  # fmt: skip
    assert before_s <= found[0].time_s <= clock.now_s()
    assert found[1].time_s == before_s - 60
    assert made.info.channels == ("bay-1/scale/mass",)


async def test_what_was_retained_or_said_while_away_is_never_taken_for_new(broker: Fake, clock: Clock) -> None:
    def mass(kg: float) -> tuple[str, object]:
        return ("shop/scale", [{"n": "any", "u": "kg", "v": kg}])

    await publish(broker, mass(9.0), retain=True)
    made = device(broker, clock)
    await made.connect()
    (fault,) = await take(made, 1)
    assert (fault.text or "").startswith("stale: ")
    await made.disconnect()
    await publish(broker, mass(8.0))
    await made.connect()
    await publish(broker, mass(7.0))
    assert [record.value for record in await take(made, 2)] == [None, 7.0]
    await made.disconnect()


async def test_a_broker_that_dies_is_a_loss_and_its_return_renews_the_subscriptions(broker: Fake, clock: Clock) -> None:
    made = device(broker, clock)
    await made.connect()
    await publish(broker, ("shop/scale", [{"n": "any", "u": "kg", "v": 1.0}]))
    assert [record.value for record in await take(made, 1)] == [1.0]
    await asyncio.to_thread(broker.kill)
    with pytest.raises(LinkLostError, match="broker is gone"):
        await take(made, 1)
    await made.disconnect()
    await made.disconnect()
    with pytest.raises(DeviceNotFoundError, match="cannot be used"):
        await made.connect()
    await asyncio.to_thread(broker.start)
    await made.connect()
    await publish(broker, ("shop/scale", [{"n": "any", "u": "kg", "v": 2.0}]))
    assert [record.value for record in await take(made, 1)] == [2.0]
    await made.disconnect()


def test_without_the_package_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch, clock: Clock) -> None:
    monkeypatch.setattr(extras, "PACKAGES", {"mqtt": ("fillmark_no_such_module", "aiomqtt")})
    with pytest.raises(ImportError, match=r"pip install 'fillmark\[mqtt\]'"):
        MqttDevice(MqttTable.model_validate({"driver": "mqtt", "name": "shop", "topics": TOPICS}), clock)
