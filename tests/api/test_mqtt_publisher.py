"""What a real service publishes on a real broker: described, retained, expiring, and told when it is gone."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import TYPE_CHECKING, Any

import aiomqtt
import pytest

from fillmark.api import schemas
from fillmark.api.app import create_app
from fillmark.api.settings import Settings
from fillmark.wire import extras

if TYPE_CHECKING:
    from tests.api.conftest import Desk, MakeDesk, Until
    from tests.conftest import Broker

Message = tuple[str, Any, bool]


class Screen:
    """A subscriber of everything."""

    def __init__(self, client: aiomqtt.Client) -> None:
        self._client = client
        self.messages: list[aiomqtt.Message] = []

    async def until(self, topic: str, **expected: object) -> Any:  # noqa: ANN401 - JSON
        """The next message on a topic whose members are as expected; a text where it is no JSON."""
        async with asyncio.timeout(20.0):
            async for message in self._client.messages:
                self.messages.append(message)
                text = bytes(message.payload).decode()
                if str(message.topic) != topic:
                    continue
                told: Any = json.loads(text) if text.startswith("{") else text
                if all(told[name] == value for name, value in expected.items()):
                    return told
        raise AssertionError(topic)


@asynccontextmanager
async def screen(broker: Broker) -> AsyncIterator[Screen]:
    async with aiomqtt.Client("127.0.0.1", broker.port, protocol=aiomqtt.ProtocolVersion.V5) as client:
        await client.subscribe("#", qos=1)
        yield Screen(client)


def settings(broker: Broker, **more: object) -> dict[str, object]:
    return {"mqtt": {"broker": broker.url, "prefix": "shop/fillmark", "heartbeat_s": 2.0, **more}}


async def begun(desk: Desk) -> None:
    await desk.open()
    await desk.act("bay-1.1", "engine", running=True)


async def test_a_glance_follows_the_bay(broker: Broker, make_desk: MakeDesk) -> None:
    async with make_desk(**settings(broker)) as desk, screen(broker) as seen:
        await desk.open()
        told = await seen.until("shop/fillmark/bays/bay-1/glance", job="bay-1.1")
        assert schemas.Glance.model_validate(told).refrigerant == "R-134a"
        await desk.act("bay-1.1", "job.close")
        await seen.until("shop/fillmark/bays/bay-1/glance", job=None)


async def test_a_late_subscriber_has_everything_at_once_and_the_glance_expires(
    broker: Broker, make_desk: MakeDesk
) -> None:
    async with make_desk(**settings(broker)) as desk:
        await desk.open()
        async with screen(broker) as first:
            await first.until("shop/fillmark/bays/bay-1/glance", job="bay-1.1")
        async with screen(broker) as late:
            await late.until("shop/fillmark/bays/bay-1/glance", job="bay-1.1")
        retained = {str(each.topic): each for each in late.messages if each.retain}
    assert set(retained) == {f"shop/fillmark/{name}" for name in ("status", "description", "bays/bay-1/glance")}
    assert retained["shop/fillmark/status"].payload == b"online"
    expires = getattr(retained["shop/fillmark/bays/bay-1/glance"].properties, "MessageExpiryInterval", None)
    assert expires is not None
    assert 0 < expires <= 6


async def test_a_stop_point_is_told_once_and_not_retained(broker: Broker, make_desk: MakeDesk) -> None:
    topic = "shop/fillmark/bays/bay-1/stop_point"
    async with make_desk(**settings(broker)) as desk, screen(broker) as seen:
        await begun(desk)
        await seen.until("shop/fillmark/bays/bay-1/glance", job="bay-1.1")
        await desk.act("bay-1.1", "valve", valve="high", open=True)
        told = await seen.until(topic, id="high-side-open-while-running")
        assert schemas.BayStopPointMoved.model_validate(told).after == "unacknowledged active"
        await desk.act("bay-1.1", "note", text="looked at it")
        await seen.until("shop/fillmark/bays/bay-1/glance", position=desk.keeper.workshop.position)
    positions = [json.loads(bytes(m.payload))["position"] for m in seen.messages if str(m.topic) == topic]
    journal = [moved.position for moved in desk.keeper.workshop.jobs["bay-1.1"].journal]
    assert positions == journal[: len(positions)]
    assert len(positions) == len([each for each in journal if each <= told["position"]])
    assert not any(message.retain for message in seen.messages if str(message.topic) == topic)


async def test_a_broker_that_was_away_gets_what_moved_meanwhile(
    broker: Broker, make_desk: MakeDesk, until: Until, caplog: pytest.LogCaptureFixture
) -> None:
    async with make_desk(**settings(broker)) as desk:
        await begun(desk)
        async with screen(broker) as seen:
            await seen.until("shop/fillmark/bays/bay-1/glance", job="bay-1.1")
        await asyncio.to_thread(broker.kill)
        await desk.act("bay-1.1", "valve", valve="high", open=True)
        await until(lambda: caplog.text.count("cannot be used") > 0)
        await asyncio.sleep(1.5)  # long enough for another attempt
        assert caplog.text.count("Connection refused") <= 1
        await asyncio.to_thread(broker.start)
        async with screen(broker) as back:
            await back.until("shop/fillmark/bays/bay-1/stop_point", id="high-side-open-while-running")


async def test_the_end_is_told(broker: Broker, make_desk: MakeDesk) -> None:
    async with screen(broker) as seen:
        async with make_desk(**settings(broker)):
            assert await seen.until("shop/fillmark/status") == "online"
        assert await seen.until("shop/fillmark/status") == "offline"


async def test_the_description_is_asyncapi_and_true(broker: Broker, make_desk: MakeDesk) -> None:
    """AsyncAPI 3.0.0: the objects that the specification requires, and addresses and shapes as they are published."""
    async with make_desk(**settings(broker)) as desk, screen(broker) as seen:
        await desk.open()
        document = await seen.until("shop/fillmark/description")
        glance = await seen.until("shop/fillmark/bays/bay-1/glance", job="bay-1.1")
    assert (document["asyncapi"], set(document["info"]) >= {"title", "version"}) == ("3.0.0", True)
    channels, operations = document["channels"], document["operations"]
    assert {channel["address"] for channel in channels.values()} == {
        "shop/fillmark/status", "shop/fillmark/bays/{bay}/glance", "shop/fillmark/bays/{bay}/stop_point",
    }  # fmt: skip
    assert {operation["channel"]["$ref"] for operation in operations.values()} == {f"#/channels/{n}" for n in channels}
    assert {operation["action"] for operation in operations.values()} == {"send"}
    shape = channels["glance"]["messages"]["message"]["payload"]
    assert set(shape["required"]) == set(shape["properties"]) == set(glance)


def test_without_the_package_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(extras, "PACKAGES", {"mqtt": ("fillmark_no_such_module", "aiomqtt")})
    given = Settings.model_validate({"mqtt": {"broker": "mqtt://127.0.0.1"}})
    with pytest.raises(ImportError, match=r"pip install 'fillmark\[mqtt\]'"):
        create_app(given)
