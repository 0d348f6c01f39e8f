"""A sensor that only broadcasts: its values are in its advertisements, in a layout that the user declares.

* One advertisement is heard several times over; the same bytes within a fifth of a second are one value.
* A system that reports only changed advertisements would fall silent on a steady value; after a silence the search is
  begun anew, which makes it report again.
"""

from __future__ import annotations

from collections.abc import AsyncIterator
from dataclasses import replace

from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData

from fillmark.wire.clock import Clock
from fillmark.wire.senml import Record
from fillmark_agent.bluetooth.device import Waits
from fillmark_agent.bluetooth.finder import search
from fillmark_agent.bluetooth.inbox import Arrival, Inbox
from fillmark_agent.bluetooth.radio import RADIO_ERRORS, Radio, words
from fillmark_agent.bluetooth.table import BroadcastTable
from fillmark_agent.device import DeviceInfo, DeviceNotFoundError, LinkLostError, Pack, Sample
from fillmark_agent.edge.edge import Edge

_REPEATED_S = 0.2
_AT_ONCE = 200
_RSSI_EVERY_S = 30.0
_FOREVER_S = 86400.0


class BroadcastDevice:
    """The driver. "Connected" means listening."""

    def __init__(self, table: BroadcastTable, clock: Clock, radio: Radio, *, waits: Waits | None = None) -> None:
        self._table = table
        self._clock = clock
        self._radio = radio
        self._waits = waits or Waits()
        self._edges = [Edge(channel, table.bay) for channel in table.channels]
        self._layouts = [channel.layout.layout() for channel in table.channels]
        self._inbox = Inbox()
        self._last: dict[int, Arrival] = {}
        self._rssi_s = float("-inf")
        self._extra: list[Record] = []
        self._was_silent = False
        self._info = DeviceInfo(table.name, tuple(edge.name for edge in self._edges), table.interval_s)

    @property
    def info(self) -> DeviceInfo:
        """Signal once heard."""
        return self._info

    async def find(self) -> None:
        """Listen until it is heard.

        Raises:
            DeviceNotFoundError: it does not broadcast, or the adapter cannot listen.
        """
        try:
            if self._was_silent:
                await self._radio.renew()
            await search(self._radio, self._table.target, self._waits.search_s)
        except RADIO_ERRORS as error:
            raise DeviceNotFoundError(f"the Bluetooth adapter cannot listen: {words(error)}") from error

    async def connect(self) -> None:
        """Go on listening.

        Raises:
            LinkLostError: the adapter cannot listen.
        """
        self._inbox = Inbox()
        try:
            await self._radio.listen(self._hear)
        except RADIO_ERRORS as error:
            raise LinkLostError(f"the Bluetooth adapter cannot listen: {words(error)}") from error
        self._was_silent = True  # until somebody who is stopping lets go, letting go means that it was silent

    async def disconnect(self) -> None:
        """Listen no more."""
        self._inbox.end("let go")
        await self._radio.leave(self._hear)

    async def samples(self) -> AsyncIterator[Pack]:
        """Values as they are broadcast. Silence is the supervisor's to notice."""
        inbox = self._inbox
        while True:
            arrived = await inbox.take(_AT_ONCE, _FOREVER_S)
            records, self._extra = self._extra, []
            for one in arrived:
                outcome = self._layouts[one.source].read(one.payload)
                if outcome is not None:
                    records += self._edges[one.source].take(outcome, one.time_s)
            if records:
                yield tuple(records)
            elif inbox.ended:
                raise LinkLostError(inbox.reason)

    def _hear(self, device: BLEDevice, advertisement: AdvertisementData) -> None:
        if not self._table.target.matches(device.address, advertisement.local_name or device.name):
            return
        time_s = self._clock.now_s()
        self._note_signal(advertisement.rssi, time_s)
        for index, channel in enumerate(self._table.channels):
            payload = (
                advertisement.service_data.get(channel.service_data)
                if channel.service_data is not None
                else advertisement.manufacturer_data.get(channel.manufacturer or 0)
            )
            if payload is not None:
                self._keep(Arrival(index, bytes(payload), time_s))

    def _keep(self, arrival: Arrival) -> None:
        last = self._last.get(arrival.source)
        since_s = float("inf") if last is None else self._clock.real_s(arrival.time_s - last.time_s)
        if last is None or last.payload != arrival.payload or since_s >= _REPEATED_S:
            self._last[arrival.source] = arrival
            self._inbox.put(arrival)

    def _note_signal(self, rssi_dbm: float, time_s: float) -> None:
        self._info = replace(self._info, rssi_dbm=float(rssi_dbm))
        if time_s - self._rssi_s >= _RSSI_EVERY_S:
            self._rssi_s = time_s
            name = f"{self._table.bay}/{self._table.name}/rssi"
            self._extra.append(Sample(name, time_s, rssi_dbm - 30.0, "dBW").record())
