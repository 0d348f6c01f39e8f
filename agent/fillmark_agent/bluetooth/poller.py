"""Reads values that a device does not send by itself."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence

from bleak import BleakClient

from fillmark.wire.clock import Clock
from fillmark_agent.bluetooth.inbox import Arrival, Inbox
from fillmark_agent.bluetooth.radio import RADIO_ERRORS, words
from fillmark_agent.bluetooth.source import Source


async def poll(client: BleakClient, sources: Sequence[Source], inbox: Inbox, clock: Clock) -> None:
    """Read what is not sent, each at its own pace (seconds of the clock), until a read fails; then the inbox ends."""
    polled = {source.characteristic.handle: source for source in sources if not source.tells}
    due = dict.fromkeys(polled, clock.now_s())
    try:
        while not inbox.ended:
            handle = min(due, key=due.__getitem__)
            source = polled[handle]
            await asyncio.sleep(clock.real_s(max(0.0, due[handle] - clock.now_s())))
            payload = bytes(await client.read_gatt_char(source.characteristic))
            inbox.put(Arrival(handle, payload, clock.now_s()))
            due[handle] = max(due[handle] + source.poll_s, clock.now_s())
    except RADIO_ERRORS as error:
        inbox.end(f"a value could not be read: {words(error)}")
