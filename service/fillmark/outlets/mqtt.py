"""Publishes on an MQTT broker (version 5), through the package aiomqtt.

* A glance is retained, so that a screen has it at once, and it expires: when the service dies, nobody is shown an old
  mass as the present one. The status tells too: the broker itself says `offline` when the service is lost (the will).
* A change of a stop point goes out at once, QoS 1, never retained. While the broker is away they wait, in the log.
* Glances of a bay come at most four times a second, and at least every ten seconds, changed or not.
"""

from __future__ import annotations

import asyncio
import json
import logging
import random
import ssl
import time
from collections.abc import Awaitable, Callable
from typing import Any

from fillmark.outlets.description import DESCRIPTION, GLANCE, OFFLINE, ONLINE, STATUS, STOP_POINT
from fillmark.outlets.feed import Feed, Plain
from fillmark.outlets.settings import MqttSettings
from fillmark.wire import extras

_LOG = logging.getLogger(__name__)
TIMEOUT_S = 10.0
KEEPALIVE_S = 10
LONGEST_PAUSE_S = 30.0
EXPIRES_AFTER_HEARTBEATS = 3


class MqttPublisher:
    """Publishes everything of one service to one broker."""

    name = "MQTT publisher"

    def __init__(
        self,
        settings: MqttSettings,
        description: Plain,
        *,
        sleep: Callable[[float], Awaitable[object]] = asyncio.sleep,
    ) -> None:
        """`description` is the document that explains the topics.

        Raises:
            MissingExtraError: aiomqtt is not installed.
        """
        self._mqtt: Any = extras.module("mqtt")
        self._settings = settings
        self._description = description
        self._sleep = sleep
        self._rng = random.Random()
        self._told_to: int | None = None
        self._problem = ""

    async def run(self, feed: Feed) -> None:
        """Publish until the service stops; come back whenever the broker does."""
        if self._told_to is None:
            self._told_to = feed.position
        pause_s = 1.0
        while not feed.stopped:
            try:
                async with self._client() as client:
                    _LOG.info("publishing to %s", self._settings.broker)
                    pause_s, self._problem = 1.0, ""
                    await self._publish(client, feed)
            except (self._mqtt.MqttError, OSError) as error:
                if str(error) != self._problem:
                    self._problem = str(error)
                    _LOG.warning("the broker %s cannot be used: %s; trying again", self._settings.broker, error)
                await self._sleep(pause_s * self._rng.uniform(0.5, 1.0))
                pause_s = min(2.0 * pause_s, LONGEST_PAUSE_S)

    async def _publish(self, client: Any, feed: Feed) -> None:  # noqa: ANN401 - of a module that may be missing
        await client.publish(self._topic(DESCRIPTION), _json(self._description), qos=1, retain=True)
        await client.publish(self._topic(STATUS), ONLINE, qos=1, retain=True)
        shown: dict[str, tuple[int, float]] = {}
        while not feed.stopped:
            await self._tell_stop_points(client, feed)
            wait_s = self._settings.heartbeat_s
            position = feed.position
            for bay, at in feed.bays().items():
                due_s = self._due_s(shown.get(bay), at)
                if due_s <= 0.0:
                    await self._show(client, feed, bay)
                    shown[bay] = (at, time.monotonic())
                    due_s = self._settings.heartbeat_s
                wait_s = min(wait_s, due_s)
            if feed.position == position:
                await feed.news(wait_s)
        await self._tell_stop_points(client, feed)
        await client.publish(self._topic(STATUS), OFFLINE, qos=1, retain=True)

    def _due_s(self, shown: tuple[int, float] | None, position: int) -> float:
        """In how many seconds a bay's glance is due; it was shown at a position and a time."""
        if shown is None:
            return 0.0
        every_s = self._settings.heartbeat_s if shown[0] == position else self._settings.least_s
        return shown[1] + every_s - time.monotonic()

    async def _tell_stop_points(self, client: Any, feed: Feed) -> None:  # noqa: ANN401 - see above
        position = feed.position
        for moved in feed.moved(self._told_to or 0, position):
            payload = _json({"bay": moved.bay, **moved.document})
            await client.publish(self._topic(STOP_POINT, moved.bay), payload, qos=1)
        self._told_to = position

    async def _show(self, client: Any, feed: Feed, bay: str) -> None:  # noqa: ANN401 - see above
        from paho.mqtt import packettypes, properties  # noqa: PLC0415 - comes with aiomqtt

        make: Any = properties.Properties
        expiring = make(packettypes.PacketTypes.PUBLISH)
        expiring.MessageExpiryInterval = round(EXPIRES_AFTER_HEARTBEATS * self._settings.heartbeat_s) or 1
        topic = self._topic(GLANCE, bay)
        await client.publish(topic, _json(feed.glance(bay)), qos=0, retain=True, properties=expiring)

    def _topic(self, below: str, bay: str = "") -> str:
        return f"{self._settings.prefix}/{below.replace('{bay}', bay)}"

    def _client(self) -> Any:  # noqa: ANN401 - of a module that may be missing
        settings, mqtt = self._settings, self._mqtt
        return mqtt.Client(
            settings.host,
            settings.port,
            username=settings.username,
            password=None if settings.password is None else settings.password.get_secret_value(),
            tls_context=ssl.create_default_context() if settings.encrypted else None,
            protocol=mqtt.ProtocolVersion.V5,
            will=mqtt.Will(self._topic(STATUS), OFFLINE, qos=1, retain=True),
            timeout=TIMEOUT_S,
            keepalive=KEEPALIVE_S,
        )


def _json(document: Plain) -> str:
    return json.dumps(document, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
