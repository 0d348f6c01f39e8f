"""An org.bluez on a D-Bus, in front of the air in memory: lets bleak's own BlueZ backend run without a radio.

As much of the interface as a central needs: BlueZ's documentation of Adapter1, Device1, GattService1,
GattCharacteristic1 and GattDescriptor1 (doc/org.bluez.*.rst in its sources, names from memory).
"""

from __future__ import annotations

import asyncio
from collections.abc import Awaitable, Callable
from contextlib import suppress
from typing import Any

from bleak.assigned_numbers import CHARACTERISTIC_PROPERTIES
from bumble import att, gatt_client
from bumble.core import ProtocolError
from bumble.device import Advertisement, Connection, Device, Peer
from dbus_fast import BusType, ErrorType, Message, MessageType, Variant
from dbus_fast.aio import MessageBus

from fillmark_sim.bluetooth.adapter import MTU, Adapter, heard, uuid_text
from fillmark_sim.bluetooth.air import CENTRAL_ADDRESS

ADAPTER = "/org/bluez/hci0"
_PROPERTIES = "org.freedesktop.DBus.Properties"
_MANAGER = "org.freedesktop.DBus.ObjectManager"
_CONNECT_S = 2.0
Answer = tuple[str, list[Any]]


class RefusedError(Exception):
    """A call is answered with this D-Bus error."""

    def __init__(self, name: str, text: str) -> None:
        super().__init__(text)
        self.name = name


def device_path(address: str) -> str:
    """The object of a device."""
    return f"{ADAPTER}/dev_{address.replace(':', '_')}"


class FakeBluez:
    """The service.

    Attributes:
        calls: members that were called, in order.
        refuse: errors for the next calls, by member.
        forgets: devices that are not connected are removed when the search stops.
        hidden: UUIDs of characteristics that a stale cache does not have; removing the device clears it.
    """

    def __init__(self, adapter: Adapter) -> None:
        self._adapter = adapter
        self._bus = MessageBus(bus_type=BusType.SYSTEM)
        self._tree: dict[str, tuple[str, dict[str, Variant]]] = {}
        self._addresses: dict[str, Any] = {}
        self._links: dict[str, Connection] = {}
        self._attributes: dict[str, tuple[Peer, Any]] = {}
        self._subscribed: dict[str, Callable[[bytes], None]] = {}
        self._tasks: set[asyncio.Task[None]] = set()
        self.calls: list[str] = []
        self.refuse: dict[str, list[RefusedError]] = {}
        self.forgets = False
        self.hidden: set[str] = set()
        self._members: dict[str, Callable[[Message], Awaitable[Answer | None]]] = {
            "SetDiscoveryFilter": self._nothing, "StartDiscovery": self._search, "StopDiscovery": self._rest,
            "RemoveDevice": self._remove_device, "Connect": self._connect, "Disconnect": self._disconnect,
            "ReadValue": self._read, "WriteValue": self._write, "StartNotify": self._subscribe,
            "StopNotify": self._unsubscribe,
        }  # fmt: skip

    async def start(self) -> None:
        """Take the name on the bus, with the adapter powered."""
        await self._adapter.power_on()
        await self._bus.connect()
        self._bus.add_message_handler(self._on_message)
        await self._bus.request_name("org.bluez")
        self._add(
            ADAPTER, "org.bluez.Adapter1", Address=Variant("s", CENTRAL_ADDRESS), Name=Variant("s", "memory"),
            Powered=Variant("b", True), Discovering=Variant("b", False), Roles=Variant("as", ["central"]),
            UUIDs=Variant("as", []),
        )  # fmt: skip
        self._adapter.central.on(Device.EVENT_ADVERTISEMENT, self._hear)

    async def stop(self) -> None:
        """Leave the bus."""
        for task in tuple(self._tasks):
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)
        self._bus.disconnect()

    def power(self, *, on: bool) -> None:
        """Switch the adapter, as a person does with a switch."""
        self._change(ADAPTER, Powered=Variant("b", on))

    def connected(self, address: str) -> bool:
        """Whether a link to the device stands."""
        return device_path(address) in self._links

    async def hold(self, address: str) -> None:
        """Connect to a device for a process that dies right after."""
        await self._open(device_path(address))

    # The tree of objects, and its signals.

    def _signal(self, path: str, interface: str, member: str, signature: str, body: list[Any]) -> None:
        kind = MessageType.SIGNAL
        signal = Message(
            message_type=kind, path=path, interface=interface, member=member, signature=signature, body=body
        )
        with suppress(EOFError, OSError):  # the bus may go first
            task = asyncio.ensure_future(self._bus.send(signal))
            task.add_done_callback(lambda done: done.cancelled() or done.exception())

    def _add(self, path: str, interface: str, **properties: Variant) -> None:
        self._tree[path] = (interface, properties)
        self._signal("/", _MANAGER, "InterfacesAdded", "oa{sa{sv}}", [path, {interface: properties}])

    def _drop(self, path: str) -> None:
        interface, _ = self._tree.pop(path)
        self._attributes.pop(path, None)
        self._signal("/", _MANAGER, "InterfacesRemoved", "oas", [path, [interface]])

    def _change(self, path: str, **properties: Variant) -> None:
        if path in self._tree:
            interface, known = self._tree[path]
            known.update(properties)
            self._signal(path, _PROPERTIES, "PropertiesChanged", "sa{sv}as", [interface, properties, []])

    # What the radio tells.

    def _hear(self, advertisement: Advertisement) -> None:
        address = advertisement.address.to_string(False)
        said, path = heard(advertisement), device_path(address)
        news = {"RSSI": Variant("n", advertisement.rssi)}
        if said.local_name:
            news |= {"Name": Variant("s", said.local_name), "Alias": Variant("s", said.local_name)}
        if said.service_uuids:
            news["UUIDs"] = Variant("as", said.service_uuids)
        if said.service_data:
            news["ServiceData"] = Variant("a{sv}", {u: Variant("ay", d) for u, d in said.service_data.items()})
        if said.manufacturer_data:
            news["ManufacturerData"] = Variant(
                "a{qv}", {n: Variant("ay", d) for n, d in said.manufacturer_data.items()}
            )
        if path in self._tree:
            self._change(path, **news)
            return
        self._addresses[path] = advertisement.address
        known = {
            "Address": Variant("s", address), "AddressType": Variant("s", "random"), "Adapter": Variant("o", ADAPTER),
            "Alias": Variant("s", address.replace(":", "-")), "Paired": Variant("b", False),
            "Connected": Variant("b", False), "ServicesResolved": Variant("b", False), "UUIDs": Variant("as", []),
        }  # fmt: skip
        self._add(path, "org.bluez.Device1", **(known | news))

    def _gone(self, path: str) -> None:
        self._links.pop(path, None)
        for below in sorted((one for one in self._tree if one.startswith(f"{path}/")), reverse=True):
            self._drop(below)
        self._change(path, ServicesResolved=Variant("b", False), Connected=Variant("b", False))

    # What clients ask.

    def _on_message(self, message: Message) -> Message | bool | None:
        if message.message_type is not MessageType.METHOD_CALL or message.destination not in {
            "org.bluez",
            self._bus.unique_name,
        }:
            return None
        if message.member == "GetManagedObjects":
            objects = {path: {interface: known} for path, (interface, known) in self._tree.items()}
            return Message.new_method_return(message, "a{oa{sa{sv}}}", [objects])
        task = asyncio.ensure_future(self._answer(message))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)
        return True

    async def _answer(self, message: Message) -> None:
        member = message.member or ""
        self.calls.append(member)
        try:
            self._refuse_if_due(message)
            signature, body = await self._members[member](message) or ("", [])
            reply = Message.new_method_return(message, signature, body)
        except RefusedError as error:
            reply = Message.new_error(message, error.name, str(error))
        except att.ATT_Error as error:
            reply = Message.new_error(message, "org.bluez.Error.Failed", f"ATT error: 0x{error.error_code:02x}")
        except (ProtocolError, asyncio.CancelledError):
            reply = Message.new_error(message, "org.bluez.Error.Failed", "Not connected")
        await self._bus.send(reply)

    def _refuse_if_due(self, message: Message) -> None:
        if message.path not in self._tree:
            raise RefusedError(ErrorType.UNKNOWN_OBJECT.value, f"there is no {message.path}")
        if waiting := self.refuse.get(message.member or ""):
            raise waiting.pop(0)

    async def _nothing(self, _: Message) -> None:
        pass

    async def _search(self, _: Message) -> None:
        await self._adapter.central.start_scanning()
        self._change(ADAPTER, Discovering=Variant("b", True))

    async def _rest(self, _: Message) -> None:
        await self._adapter.central.stop_scanning()
        self._change(ADAPTER, Discovering=Variant("b", False))
        if self.forgets:
            for path in [one for one in self._tree if one != ADAPTER and one not in self._links]:
                if self._tree[path][0] == "org.bluez.Device1":
                    self._drop(path)

    async def _remove_device(self, message: Message) -> None:
        path = message.body[0]
        self.hidden.clear()
        if (link := self._links.get(path)) is not None:
            await link.disconnect()
        if path in self._tree:
            self._drop(path)

    async def _connect(self, message: Message) -> None:
        await self._open(message.path or "")

    async def _open(self, path: str) -> None:
        try:
            async with asyncio.timeout(_CONNECT_S):
                link = await self._adapter.central.connect(self._addresses[path], timeout=None)
        except TimeoutError:
            self._adapter.controller.pending_le_connection = None
            raise RefusedError("org.bluez.Error.Failed", "le-connection-abort-by-local") from None
        self._links[path] = link
        link.on(link.EVENT_DISCONNECTION, lambda _: self._gone(path))
        self._change(path, Connected=Variant("b", True))
        task = asyncio.ensure_future(self._resolve(path, link))
        self._tasks.add(task)
        task.add_done_callback(self._tasks.discard)

    async def _resolve(self, path: str, link: Connection) -> None:
        peer = Peer(link)
        with suppress(ProtocolError, asyncio.CancelledError):
            await peer.request_mtu(MTU)
            await peer.discover_all()  # type: ignore[no-untyped-call]  # bumble's
            for service in peer.services:
                below = f"{path}/service{service.handle:04x}"
                self._add(
                    below, "org.bluez.GattService1", UUID=Variant("s", uuid_text(service.uuid)),
                    Primary=Variant("b", True), Device=Variant("o", path),
                )  # fmt: skip
                for characteristic in service.characteristics:
                    if uuid_text(characteristic.uuid) not in self.hidden:
                        self._add_characteristic(below, peer, characteristic, link.att_mtu)
            self._change(path, ServicesResolved=Variant("b", True))

    def _add_characteristic(
        self, below: str, peer: Peer, one: gatt_client.CharacteristicProxy[bytes], mtu: int
    ) -> None:
        path = f"{below}/char{one.handle - 1:04x}"
        self._attributes[path] = (peer, one)
        able = [name for bit, name in CHARACTERISTIC_PROPERTIES.items() if one.properties & bit]
        self._add(
            path, "org.bluez.GattCharacteristic1", UUID=Variant("s", uuid_text(one.uuid)), Service=Variant("o", below),
            Value=Variant("ay", b""), Notifying=Variant("b", False), Flags=Variant("as", able), MTU=Variant("q", mtu),
        )  # fmt: skip
        for descriptor in one.descriptors:
            lower = f"{path}/desc{descriptor.handle:04x}"
            self._attributes[lower] = (peer, descriptor)
            self._add(
                lower, "org.bluez.GattDescriptor1", UUID=Variant("s", uuid_text(descriptor.type)),
                Characteristic=Variant("o", path), Value=Variant("ay", b""),
            )  # fmt: skip

    async def _disconnect(self, message: Message) -> None:
        if (link := self._links.get(message.path or "")) is not None:
            await link.disconnect()

    async def _read(self, message: Message) -> Answer:
        peer, attribute = self._attributes[message.path or ""]
        return "ay", [bytes(await peer.read_value(attribute))]

    async def _write(self, message: Message) -> None:
        peer, attribute = self._attributes[message.path or ""]
        await peer.write_value(attribute, bytes(message.body[0]), with_response=True)

    async def _subscribe(self, message: Message) -> None:
        path = message.path or ""
        peer, characteristic = self._attributes[path]

        def take(value: bytes) -> None:
            self._change(path, Value=Variant("ay", bytes(value)))

        self._subscribed[path] = take
        await peer.subscribe(characteristic, take)
        self._change(path, Notifying=Variant("b", True))

    async def _unsubscribe(self, message: Message) -> None:
        path = message.path or ""
        peer, characteristic = self._attributes[path]
        await peer.unsubscribe(characteristic, self._subscribed.pop(path, None))
