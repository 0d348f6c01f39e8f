"""A Bluetooth device that is connected to: find it, connect, subscribe, decode, and notice when it has gone.

What to try after which trouble is `life`'s to say. Every connection renews every subscription. A link on which nothing
has come for a while is asked for a value: a dead one does not answer, and nobody else reports that.
"""

from __future__ import annotations

import asyncio
import logging
from collections.abc import AsyncIterator, Callable
from contextlib import suppress
from dataclasses import dataclass, replace

from bleak import BleakClient
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.device import BLEDevice
from bleak.exc import BleakDeviceNotFoundError

from fillmark.wire.clock import Clock
from fillmark.wire.senml import Record
from fillmark_agent.bluetooth import sig
from fillmark_agent.bluetooth.finder import search
from fillmark_agent.bluetooth.identity import full_uuid
from fillmark_agent.bluetooth.inbox import Arrival, Inbox
from fillmark_agent.bluetooth.life import Life, Phase, Trouble, trouble_of
from fillmark_agent.bluetooth.poller import poll
from fillmark_agent.bluetooth.radio import RADIO_ERRORS, Radio, words
from fillmark_agent.bluetooth.source import Decode, Source, read_or_none, resolve
from fillmark_agent.bluetooth.table import BluetoothTable
from fillmark_agent.cancellation import heed_cancellation
from fillmark_agent.device import DeviceInfo, DeviceNotFoundError, LinkLostError, Pack, Sample, Sleep
from fillmark_agent.edge.edge import Edge
from fillmark_agent.edge.outcome import Fault, FaultKind, Measurement

_LOG = logging.getLogger(__name__)
_BATTERY = full_uuid(f"{sig.BATTERY_LEVEL:04x}")
_AT_ONCE = 200
_SILENT_INTERVALS = 10.0


@dataclass(frozen=True, slots=True)
class Waits:
    """How long a driver waits, real seconds.

    Attributes:
        search_s: for an advertisement.
        connect_s: for a connection to a device that was just heard.
        brief_s: for a connection to one that was not.
        quiet_s: without a value until the device is asked whether it is there.
        answer_s: for its answer.
        channel_s: at least, for a value of a channel that always sends while others speak; else ten of its intervals.
    """

    search_s: float = 10.0
    connect_s: float = 15.0
    brief_s: float = 3.0
    quiet_s: float = 10.0
    answer_s: float = 5.0
    channel_s: float = 3.0


class BluetoothDevice:
    """The driver."""

    def __init__(
        self,
        table: BluetoothTable,
        clock: Clock,
        radio: Radio,
        *,
        waits: Waits | None = None,
        sleep: Sleep = asyncio.sleep,
    ) -> None:
        self._table = table
        self._clock = clock
        self._radio = radio
        self._waits = waits or Waits()
        self._sleep = sleep
        self._edges = [Edge(channel, table.bay) for channel in table.channels]
        self._readers: dict[int, list[tuple[Edge, Decode]]] = {}
        self._steady: dict[int, tuple[str, float]] = {}
        self._heard: dict[int, float] = {}
        self._life = Life()
        self._known: BLEDevice | None = None
        self._client: BleakClient | None = None
        self._inbox = Inbox()
        self._polling: asyncio.Task[None] | None = None
        self._extra: list[Record] = []
        self._introduced = False
        self._info = DeviceInfo(table.name, tuple(edge.name for edge in self._edges), table.interval_s)

    @property
    def info(self) -> DeviceInfo:
        """Battery once connected and when it changes, signal once heard."""
        return self._info

    @property
    def life(self) -> Life:
        """Where the link is, and what is tried next."""
        return self._life

    async def find(self) -> None:
        """Search for the device, or go straight to the one that is known, as the plan says.

        Raises:
            DeviceNotFoundError: it does not advertise, or the adapter cannot listen.
        """
        plan = self._life.plan
        address = self._known.address if self._known is not None else self._table.address
        if plan.pause_s > 0.0:
            await self._sleep(plan.pause_s)
        if address is not None and plan.forget:
            await self._radio.care.forget(address)
        if address is not None and plan.release:
            await self._radio.care.release(address)
        if plan.search or self._known is None:
            await self._search()
        self._life = self._life.found()

    async def _search(self) -> None:
        try:
            if self._life.plan.hold_search:
                await self._radio.listen(self._hold)  # until connected: what is found must not be forgotten
            found = await search(self._radio, self._table.target, self._waits.search_s)
        except DeviceNotFoundError:
            self._life = self._life.after(Trouble.UNSEEN)
            raise
        except RADIO_ERRORS as error:
            self._life = self._life.after(trouble_of(error) if trouble_of(error) is Trouble.BUSY else Trouble.FAILED)
            raise DeviceNotFoundError(f"the Bluetooth adapter cannot listen: {words(error)}") from error
        self._known = found.device
        self._info = replace(self._info, rssi_dbm=found.rssi_dbm)
        self._tell("rssi", found.rssi_dbm - 30.0, "dBW")

    async def connect(self) -> None:
        """Open the link, resolve every channel and subscribe to it.

        Raises:
            DeviceNotFoundError: the system forgot it since it was found.
            LinkLostError: the link could not be set up.
        """
        try:
            async with self._radio.turn:
                await self._open()
        except RADIO_ERRORS as error:
            self._life = self._life.after(trouble_of(error))
            await self._let_go()
            kind = DeviceNotFoundError if isinstance(error, BleakDeviceNotFoundError) else LinkLostError
            raise kind(f"{trouble_of(error).value}: {words(error)}") from error
        finally:
            await self._radio.leave(self._hold)
        self._life = self._life.opened()

    async def _open(self) -> None:
        if self._known is None:
            raise BleakDeviceNotFoundError(self._table.name, "not searched for yet")
        self._inbox = inbox = Inbox()
        within_s = self._waits.brief_s if self._life.plan.brief else self._waits.connect_s
        client = self._radio.connection(self._known, lambda: inbox.end("the link dropped"), within_s)
        self._client = client
        await client.connect()
        sources = await self._resolve(client)
        await self._introduce(client)
        for source in sources.values():
            if source.tells:
                handle = source.characteristic.handle
                await client.start_notify(source.characteristic, self._keeper(handle, inbox))
        if not all(source.tells for source in sources.values()):
            self._polling = asyncio.create_task(poll(client, list(sources.values()), inbox, self._clock))

    async def _resolve(self, client: BleakClient) -> dict[int, Source]:
        """The characteristics to listen to, by handle. Several channels may come from one."""
        sources: dict[int, Source] = {}
        self._readers, self._steady, self._heard = {}, {}, {}
        for edge, channel in zip(self._edges, self._table.channels, strict=True):
            source = await resolve(client, channel)
            if isinstance(source, Fault):
                self._extra.extend(edge.take(source, self._clock.now_s()))
                continue
            handle = source.characteristic.handle
            sources.setdefault(handle, source)
            self._readers.setdefault(handle, []).append((edge, source.decode))
            if channel.interval_s is not None:
                self._steady[handle] = (edge.name, channel.interval_s)
                self._heard[handle] = self._clock.now_s()
        return sources

    def _hold(self, *_: object) -> None:
        """Listens to nothing; that keeps the search going."""

    def _keeper(self, handle: int, inbox: Inbox) -> Callable[[BleakGATTCharacteristic, bytearray], None]:
        now_s = self._clock.now_s

        def keep(_: BleakGATTCharacteristic, payload: bytearray) -> None:
            inbox.put(Arrival(handle, bytes(payload), now_s()))

        return keep

    async def _introduce(self, client: BleakClient) -> None:
        if (payload := await read_or_none(client, _BATTERY)) is not None:
            self._note_battery(payload)
            battery = client.services.get_characteristic(_BATTERY)
            if battery is not None and "notify" in battery.properties:
                await client.start_notify(battery, lambda _, payload: self._note_battery(bytes(payload)))
        if self._introduced:
            return
        said = []
        for number, what in sig.DEVICE_INFORMATION.items():
            if (payload := await read_or_none(client, full_uuid(f"{number:04x}"))) is not None:
                said.append(f"{what} {sig.text(payload)}")
        self._introduced = True
        if said:
            _LOG.info("%s: %s", self._table.name, ", ".join(said))

    def _note_battery(self, payload: bytes) -> None:
        level = sig.battery_level(payload)
        if isinstance(level, Measurement):
            self._info = replace(self._info, battery_percent=level.value)
            self._tell("battery", level.value, level.unit)

    def _tell(self, what: str, value: float, unit: str | None) -> None:
        name = f"{self._table.bay}/{self._table.name}/{what}"
        self._extra.append(Sample(name, self._clock.now_s(), value, unit).record())

    async def samples(self) -> AsyncIterator[Pack]:
        """Values as they arrive.

        Raises:
            LinkLostError: the link dropped, or is dead.
        """
        inbox, lost = self._inbox, 0
        while True:
            try:
                arrived = await inbox.take(_AT_ONCE, self._waits.quiet_s)
            except TimeoutError:
                await self._ask()
                heed_cancellation()
                continue
            records = self._decoded(arrived)
            if inbox.overrun > lost:
                lost = inbox.overrun
                records += self._overrun(lost)
            if records:
                yield tuple(records)
            elif inbox.ended:
                self._lose(Trouble.DROPPED)
                raise LinkLostError(inbox.reason)
            self._see_that_all_speak()

    def _decoded(self, arrived: list[Arrival]) -> list[Record]:
        records, self._extra = self._extra, []
        for one in arrived:
            self._heard[one.source] = one.time_s
            for edge, decode in self._readers[one.source]:
                outcome = decode(one.payload)
                if outcome is not None:
                    records += edge.take(outcome, one.time_s)
        return records

    def _see_that_all_speak(self) -> None:
        """Notice a subscription that was lost while the link and its other values live on.

        Raises:
            LinkLostError: a channel that always sends has been silent for too long.
        """
        now_s = self._clock.now_s()
        for handle, (channel, interval_s) in self._steady.items():
            silent_s = self._clock.real_s(now_s - self._heard[handle])
            if silent_s > max(self._waits.channel_s, _SILENT_INTERVALS * interval_s):
                self._lose(Trouble.SILENT)
                raise LinkLostError(f"nothing of {channel} for {silent_s:.3g} s while others speak")

    def _overrun(self, lost: int) -> list[Record]:
        fault = Fault(FaultKind.OVERRUN, f"values came faster than they could be kept; {lost} are lost")
        return [record for edge in self._edges for record in edge.take(fault, self._clock.now_s())]

    async def _ask(self) -> None:
        """See whether the device is still there: read something.

        Raises:
            LinkLostError: no answer.
        """
        client = self._client
        known = [] if client is None else client.services.characteristics.values()
        # Not one that is subscribed to: BlueZ would also report the answer as a fresh value.
        readable = [one for one in known if "read" in one.properties and one.handle not in self._readers]
        try:
            async with asyncio.timeout(self._waits.answer_s):
                if client is not None and readable:
                    await client.read_gatt_char(readable[0])
        except RADIO_ERRORS as error:
            self._lose(Trouble.SILENT)
            raise LinkLostError("the link stood and nothing came; the device does not answer") from error

    def _lose(self, trouble: Trouble) -> None:
        if self._life.phase is not Phase.LOST:
            self._life = self._life.after(trouble)

    async def disconnect(self) -> None:
        """Let the link go. Whoever lets go of a standing link has found it silent, or is stopping."""
        self._lose(Trouble.SILENT)
        await self._let_go()

    async def _let_go(self) -> None:
        await self._radio.leave(self._hold)
        client, self._client = self._client, None
        polling, self._polling = self._polling, None
        self._inbox.end("let go")
        if polling is not None:
            polling.cancel()
            with suppress(asyncio.CancelledError):
                await polling
        if client is not None:
            with suppress(*RADIO_ERRORS):
                await client.disconnect()
