"""A scale on a serial line and probes on a broker, through real processes and an outage of the service."""

from __future__ import annotations

import asyncio
import json
import os
import tty
from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, Any

import aiomqtt
import pytest

if TYPE_CHECKING:
    from tests.conftest import Broker
    from tests.end_to_end.conftest import Shop

OpenShop = Callable[..., Any]
Wait = Callable[..., None]
DEVICES = """\
driver = "line-scale"
port = "{port}"
pattern = '(?P<stable>ST|US),(?P<sign>[+-])(?P<value>[ 0-9]{{3}}\\.[0-9]{{3}})(?P<unit>kg|lb)'
stable = ["ST"]
overload = 'OL'
interval_s = 0
[[devices]]
driver = "mqtt"
name = "probes"
broker = "{broker}"
[[devices.topics]]
topic = "shop/low"
channel = "low/pressure"
"""


@pytest.fixture
def line() -> Iterator[tuple[int, str]]:
    """The scale's end of a serial line, and the name of the agent's end."""
    end, other = os.openpty()
    tty.setraw(end)
    tty.setraw(other)
    yield end, os.ttyname(other)
    os.close(end)
    os.close(other)


def publish(broker: Broker, pressure_abs_pa: float) -> None:
    async def send() -> None:
        async with aiomqtt.Client("127.0.0.1", broker.port) as client:
            pack = [{"n": "low", "u": "Pa", "v": pressure_abs_pa}]
            await client.publish("shop/low", json.dumps(pack), qos=1)

    asyncio.run(send())


def test_wired_readings_reach_the_log_and_survive_an_outage(
    shop: OpenShop, wait: Wait, broker: Broker, line: tuple[int, str]
) -> None:
    bench: Shop = shop("wired", 1.0)
    end, port = line
    service = bench.serve()
    bench.agent(DEVICES.format(port=port, broker=broker.url))

    def last(channel: str) -> object:
        rows = bench.get("/v1/bays")["bays"]
        return rows[0]["channels"].get(channel, {}).get("value") if rows else None

    def said(text: bytes, channel: str, value: object) -> bool:
        os.write(end, text)
        return last(channel) == value

    def published(pressure_abs_pa: float) -> bool:
        publish(broker, pressure_abs_pa)
        return last("low/pressure") == pressure_abs_pa

    wait("the mass", lambda: said(b"\r\nST,+  1.214kg\r\n", "scale/mass", 1.214))
    wait("the pressure", lambda: published(310000.0))
    assert last("scale/stable") is True
    os.write(end, b"OL\r\n")
    wait("the overload", lambda: str(last("scale/mass/fault")).startswith("overload: "))
    assert last("scale/mass") == 1.214
    service.kill()
    os.write(end, b"US,+  1.200kg\r\n")
    publish(broker, 305000.0)
    bench.serve()
    wait("what was said in the outage", lambda: last("scale/mass") == 1.2 and last("low/pressure") == 305000.0)
    assert (last("scale/mass/fault"), last("scale/stable")) == ("none", False)
