"""An MQTT broker as a device, through the package aiomqtt: other people's sensors publish SenML, topics are channels.

* The session is a clean one. A broker does not say how long a message has waited, and a reading without a time of its
  own would look as if it were new.
* A message is stamped when it arrives, before it waits for anything.
"""

from __future__ import annotations

import asyncio
import ssl
from collections.abc import AsyncIterator
from contextlib import AsyncExitStack
from types import ModuleType
from typing import Any

from fillmark.wire import extras
from fillmark.wire.clock import Clock
from fillmark_agent.device import DeviceInfo, DeviceNotFoundError, LinkLostError, Pack
from fillmark_agent.mqtt.messages import Messages
from fillmark_agent.mqtt.table import MqttTable

_TIMEOUT_S = 10.0
_KEEPALIVE_S = 10
_WAITING = 4000


class MqttDevice:
    """The topics of one broker."""

    def __init__(self, table: MqttTable, clock: Clock, *, mqtt: ModuleType | None = None) -> None:
        """`mqtt` stands in for the module of aiomqtt.

        Raises:
            MissingExtraError: aiomqtt is not installed.
        """
        self._table = table
        self._clock = clock
        self._mqtt: Any = mqtt or extras.module("mqtt")
        self._messages = Messages(f"{table.bay}/{table.name}", table.bay)
        self._arrived: asyncio.Queue[tuple[float, Any]] = asyncio.Queue(_WAITING)
        self._stack: AsyncExitStack | None = None
        self._listening: asyncio.Task[None] | None = None
        named = tuple(f"{table.bay}/{topic.channel}" for topic in table.topics if topic.channel is not None)
        self.info = DeviceInfo(table.name, named, table.interval_s)

    async def find(self) -> None:
        """Nothing to look for: the broker is named, and `connect` says whether it is there."""

    async def connect(self) -> None:
        """Connect and subscribe.

        Raises:
            DeviceNotFoundError: the broker does not answer, or refuses.
        """
        await self.disconnect()
        stack = AsyncExitStack()
        try:
            client = await stack.enter_async_context(self._client())
            for topic in self._table.topics:
                await client.subscribe(topic.topic, qos=1)
        except (self._mqtt.MqttError, OSError, ValueError) as error:
            await stack.aclose()
            raise DeviceNotFoundError(f"the broker {self._table.broker} cannot be used: {error}") from error
        self._stack = stack
        self._arrived = asyncio.Queue(_WAITING)
        self._listening = asyncio.create_task(self._listen(client))

    async def samples(self) -> AsyncIterator[Pack]:
        """Readings and faults as messages arrive.

        Raises:
            LinkLostError: the connection to the broker is gone.
        """
        if self._listening is None:
            raise LinkLostError("the broker is not connected")
        while True:
            time_s, message = await self._next(self._listening)
            topic = next((each for each in self._table.topics if message.topic.matches(each.topic)), None)
            if topic is None:
                continue  # a broker that sends what was not asked for
            yield self._messages.pack(topic, bytes(message.payload), time_s, retained=message.retain)

    async def disconnect(self) -> None:
        """Leave the broker."""
        listening, self._listening = self._listening, None
        stack, self._stack = self._stack, None
        if listening is not None:
            listening.cancel()
            await asyncio.gather(listening, return_exceptions=True)
        if stack is not None:
            try:
                await stack.aclose()
            except self._mqtt.MqttError:  # it was gone already
                return

    def _client(self) -> Any:  # noqa: ANN401 - of a module that may be missing
        table = self._table
        return self._mqtt.Client(
            table.host,
            table.port,
            username=table.username,
            password=None if table.password is None else table.password.get_secret_value(),
            tls_context=ssl.create_default_context() if table.encrypted else None,
            timeout=_TIMEOUT_S,
            keepalive=_KEEPALIVE_S,
        )

    async def _listen(self, client: Any) -> None:  # noqa: ANN401 - of a module that may be missing
        async for message in client.messages:
            await self._arrived.put((self._clock.now_s(), message))

    async def _next(self, listening: asyncio.Task[None]) -> tuple[float, Any]:
        """The next message; what arrived before a loss comes first."""
        if not self._arrived.empty():
            return self._arrived.get_nowait()
        coming = asyncio.ensure_future(self._arrived.get())
        try:
            await asyncio.wait({coming, listening}, return_when=asyncio.FIRST_COMPLETED)
            if coming.done():
                return coming.result()
        finally:
            coming.cancel()
        error = None if listening.cancelled() else listening.exception()
        raise LinkLostError(f"the broker is gone ({error or 'the connection was closed'})") from error
