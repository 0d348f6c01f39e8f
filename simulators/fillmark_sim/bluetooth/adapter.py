"""An adapter for bleak whose radio is the air in memory: a scanner and a client like those of a system's Bluetooth."""

from __future__ import annotations

import asyncio
from collections.abc import Callable, Coroutine
from contextlib import suppress
from typing import Any, TypeVar

from bleak.args import SizedBuffer
from bleak.assigned_numbers import CHARACTERISTIC_PROPERTIES
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.backends.client import BaseBleakClient, NotifyCallback
from bleak.backends.descriptor import BleakGATTDescriptor
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData, AdvertisementDataCallback, BaseBleakScanner
from bleak.backends.service import BleakGATTService, BleakGATTServiceCollection
from bleak.exc import BleakDeviceNotFoundError, BleakError, BleakGATTProtocolError, BleakGATTProtocolErrorCode
from bleak.uuids import normalize_uuid_16
from bumble import att
from bumble.core import UUID, AdvertisingData, ProtocolError
from bumble.device import Advertisement, Connection, Device, Peer

from fillmark_sim.bluetooth.air import CENTRAL_ADDRESS, Air

T = TypeVar("T")
MTU = 247
_UUID_LISTS = {2: (2, 3), 4: (4, 5), 16: (6, 7)}
_SERVICE_DATA = {0x16: 2, 0x20: 4, 0x21: 16}


def uuid_text(uuid: UUID) -> str:
    """A UUID as bleak writes it."""
    if len(uuid.uuid_bytes) == 16:
        return uuid.to_hex_str("-").lower()
    return normalize_uuid_16(int.from_bytes(uuid.uuid_bytes, "little"))


def heard(advertisement: Advertisement) -> AdvertisementData:
    """What bleak makes of an advertisement."""
    name, uuids = None, []
    services: dict[str, bytes] = {}
    makers: dict[int, bytes] = {}
    for kind, value in advertisement.data.ad_structures:
        if kind in {AdvertisingData.Type.COMPLETE_LOCAL_NAME, AdvertisingData.Type.SHORTENED_LOCAL_NAME}:
            name = value.decode("utf-8", "replace")
        elif kind == AdvertisingData.Type.MANUFACTURER_SPECIFIC_DATA:
            makers[int.from_bytes(value[:2], "little")] = bytes(value[2:])
        elif kind in _SERVICE_DATA:
            size = _SERVICE_DATA[kind]
            services[uuid_text(UUID.from_bytes(value[:size]))] = bytes(value[size:])
        else:
            uuids += [
                uuid_text(UUID.from_bytes(value[at : at + size]))
                for size, kinds in _UUID_LISTS.items()
                if kind in kinds
                for at in range(0, len(value), size)
            ]
    return AdvertisementData(name, makers, services, list(dict.fromkeys(uuids)), None, advertisement.rssi, ())


class Adapter:
    """One Bluetooth adapter on the air. `scanner` and `client` are what bleak takes as `backend`.

    Attributes:
        scans: how often a search was begun.
        searching: whether one goes on.
        fail_connect: errors of the next attempts to connect.
        forgets: a device is forgotten as soon as the search ends, as BlueZ does with strangers.
        hidden: UUIDs that a stale memory of the services does not have.
    """

    def __init__(self, air: Air) -> None:
        self.air = air
        self.central, self.controller = air.station("central", CENTRAL_ADDRESS)
        self.scanner: type[BaseBleakScanner] = type("MemoryScanner", (_Scanner,), {"adapter": self})
        self.client: type[BaseBleakClient] = type("MemoryClient", (_Client,), {"adapter": self})
        self.scans = 0
        self.searching = False
        self.fail_connect: list[BaseException] = []
        self.forgets = False
        self.hidden: set[str] = set()

    async def power_on(self) -> None:
        """Switch it on."""
        await self.central.power_on()


class _Scanner(BaseBleakScanner):
    adapter: Adapter

    def __init__(
        self,
        detection_callback: AdvertisementDataCallback | None,
        service_uuids: list[str] | None,
        *_: object,
        **__: object,
    ) -> None:
        super().__init__(detection_callback, service_uuids)
        self._reported: set[tuple[str, bytes]] = set()

    async def start(self) -> None:
        self.seen_devices = {}
        self._reported = set()
        self.adapter.scans += 1
        self.adapter.searching = True
        self.adapter.central.on(Device.EVENT_ADVERTISEMENT, self._hear)
        await self.adapter.central.start_scanning()

    async def stop(self) -> None:
        self.adapter.searching = False
        self.adapter.central.remove_listener(Device.EVENT_ADVERTISEMENT, self._hear)
        await self.adapter.central.stop_scanning()

    def _hear(self, advertisement: Advertisement) -> None:
        identifier = self.adapter.air.identifier(advertisement.address)
        report = (identifier, bytes(advertisement.data))
        if self.adapter.air.deduplicates and report in self._reported:
            return
        self._reported.add(report)
        found = heard(advertisement)
        device = self.create_or_update_device(identifier, identifier, found.local_name, advertisement.address, found)
        if self.is_allowed_uuid(found.service_uuids):
            self.call_detection_callbacks(device, found)


class _Client(BaseBleakClient):
    adapter: Adapter

    def __init__(
        self,
        address_or_ble_device: BLEDevice | str,
        services: set[str] | None = None,
        **options: Any,  # noqa: ANN401 - as bleak has it
    ) -> None:
        super().__init__(address_or_ble_device, **options)
        del services
        self._device = address_or_ble_device if isinstance(address_or_ble_device, BLEDevice) else None
        self._connection: Connection | None = None
        self._dropped: asyncio.Future[None] = asyncio.get_running_loop().create_future()
        self._peer: Peer | None = None
        self._subscribed: dict[int, Callable[[bytes], None]] = {}

    @property
    def name(self) -> str:
        return (self._device.name if self._device else None) or self.address

    @property
    def mtu_size(self) -> int:
        return self._connection.att_mtu if self._connection else 23

    @property
    def is_connected(self) -> bool:
        return self._connection is not None

    async def connect(self, pair: bool, **_: object) -> None:
        del pair
        if self.adapter.fail_connect:
            raise self.adapter.fail_connect.pop(0)
        if self._device is None or (self.adapter.forgets and not self.adapter.searching):
            raise BleakDeviceNotFoundError(self.address, f"the adapter has not seen {self.address}")
        try:
            async with asyncio.timeout(self._timeout):
                await self._open(self._device)
        except BaseException:
            # The virtual controller does not forget a connection that was given up.
            self.adapter.controller.pending_le_connection = None
            await self.disconnect()
            raise

    async def _open(self, device: BLEDevice) -> None:
        self._connection = connection = await self.adapter.central.connect(device.details, timeout=None)
        self._dropped = asyncio.get_running_loop().create_future()
        connection.on(connection.EVENT_DISCONNECTION, self._gone)
        self._peer = peer = Peer(connection)
        await self._do(peer.request_mtu(MTU))
        await self._do(peer.discover_all())  # type: ignore[no-untyped-call]  # bumble's
        self.services = self._collection(peer)

    def _collection(self, peer: Peer) -> BleakGATTServiceCollection:
        collection = BleakGATTServiceCollection()
        for service in peer.services:
            ours = BleakGATTService(service, service.handle, uuid_text(service.uuid))
            collection.add_service(ours)
            for one in service.characteristics:
                if uuid_text(one.uuid) in self.adapter.hidden:
                    continue
                able = [name for bit, name in CHARACTERISTIC_PROPERTIES.items() if one.properties & bit]
                characteristic = BleakGATTCharacteristic(
                    one, one.handle, uuid_text(one.uuid), able, lambda: self.mtu_size - 3, ours
                )
                collection.add_characteristic(characteristic)
                for descriptor in one.descriptors:
                    collection.add_descriptor(
                        BleakGATTDescriptor(descriptor, descriptor.handle, uuid_text(descriptor.type), characteristic)
                    )
        return collection

    def _gone(self, _: object) -> None:
        self._connection = self._peer = self.services = None
        self._subscribed.clear()
        if not self._dropped.done():
            self._dropped.set_result(None)
        if self._disconnected_callback is not None:
            self._disconnected_callback()

    async def _do(self, operation: Coroutine[Any, Any, T]) -> T:
        """One operation; bumble's outcomes become bleak's, and what waits when the link drops is told so at once."""
        task = asyncio.ensure_future(operation)
        either: set[asyncio.Future[Any]] = {task, self._dropped}
        try:
            await asyncio.wait(either, return_when=asyncio.FIRST_COMPLETED)
        finally:
            if not task.done():
                task.cancel()
                task.add_done_callback(_look_away)
        if not task.done() or task.cancelled():
            raise BleakError("the link dropped")
        try:
            return task.result()
        except att.ATT_Error as error:
            raise BleakGATTProtocolError(BleakGATTProtocolErrorCode(error.error_code)) from error
        except ProtocolError as error:
            raise BleakError(str(error)) from error

    @property
    def _open_peer(self) -> Peer:
        if self._peer is None:
            raise BleakError("not connected")
        return self._peer

    async def disconnect(self) -> None:
        if self._connection is not None:
            with suppress(BleakError):  # it dropped first
                await self._do(self._connection.disconnect())

    async def pair(self, *_: object, **__: object) -> None:
        raise NotImplementedError

    async def unpair(self) -> None:
        raise NotImplementedError

    async def read_gatt_char(
        self, characteristic: BleakGATTCharacteristic, *, use_cached: bool = False, **_: object
    ) -> bytearray:
        del use_cached
        return bytearray(await self._do(self._open_peer.read_value(characteristic.obj)))

    async def read_gatt_descriptor(
        self, descriptor: BleakGATTDescriptor, *, use_cached: bool = False, **_: object
    ) -> bytearray:
        del use_cached
        return bytearray(await self._do(self._open_peer.read_value(descriptor.obj)))

    async def write_gatt_char(self, characteristic: BleakGATTCharacteristic, data: SizedBuffer, response: bool) -> None:
        await self._do(self._open_peer.write_value(characteristic.obj, bytes(data), with_response=response))

    async def write_gatt_descriptor(self, descriptor: BleakGATTDescriptor, data: SizedBuffer) -> None:
        await self._do(self._open_peer.write_value(descriptor.obj, bytes(data), with_response=True))

    async def start_notify(
        self, characteristic: BleakGATTCharacteristic, callback: NotifyCallback, **_: object
    ) -> None:
        def take(value: bytes) -> None:
            callback(bytearray(value))

        self._subscribed[characteristic.handle] = take
        await self._do(self._open_peer.subscribe(characteristic.obj, take))

    async def stop_notify(self, characteristic: BleakGATTCharacteristic) -> None:
        take = self._subscribed.pop(characteristic.handle, None)
        await self._do(self._open_peer.unsubscribe(characteristic.obj, take))


def _look_away(task: asyncio.Task[Any]) -> None:
    """Take the outcome of an operation that nobody waits for any more."""
    if not task.cancelled():
        task.exception()
