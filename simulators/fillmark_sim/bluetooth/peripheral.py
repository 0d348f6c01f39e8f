"""A peripheral on the air: services, advertising, notifications, and ways to go away."""

from __future__ import annotations

import struct
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass

from bumble import att, data_types, gatt
from bumble.core import UUID, AdvertisingData, DataType, ProtocolError
from bumble.device import AdvertisingType
from bumble.profiles.battery_service import BatteryService
from bumble.profiles.device_information_service import DeviceInformationService

from fillmark_sim.bluetooth.air import Air

Property = gatt.Characteristic.Properties
PRESENTATION = UUID.from_16_bits(0x2904)
_SIG_NAMESPACE = 1


def presentation(form: int, exponent: int, unit: int) -> gatt.Descriptor:
    """A Presentation Format descriptor."""
    value = struct.pack("<BbHBH", form, exponent, unit, _SIG_NAMESPACE, 0)
    return gatt.Descriptor(PRESENTATION, att.Attribute.READABLE, value)


def reading(
    uuid: int | str, how: str = "notify", descriptors: Sequence[gatt.Descriptor] = ()
) -> gatt.Characteristic[bytes]:
    """A characteristic that notifies or indicates; both can also be asked for with "read"."""
    able = {"notify": Property.NOTIFY, "indicate": Property.INDICATE, "read": Property.READ}[how]
    can_read = able if how == "indicate" else able | Property.READ
    name = UUID.from_16_bits(uuid) if isinstance(uuid, int) else UUID(uuid)
    return gatt.Characteristic(name, can_read, gatt.Characteristic.READABLE, b"", list(descriptors))


@dataclass(frozen=True, slots=True)
class Card:
    """What a peripheral says of itself."""

    name: str
    address: str
    services: tuple[int, ...] = ()
    battery_percent: int = 87


class Peripheral:
    """A device with a link. It can be connected to while it advertises."""

    def __init__(self, air: Air, card: Card, services: Sequence[gatt.Service]) -> None:
        self.air = air
        self.card = card
        self.battery_percent: int | None = card.battery_percent
        self.device, _ = air.station(card.name, card.address)
        self._battery_service = BatteryService(self._battery)
        self.device.add_services(
            [
                *services,
                self._battery_service,
                DeviceInformationService("Invented Instruments", card.name, "0001", firmware_revision="1.0"),
            ]
        )

    def _battery(self, _: object) -> int:
        """The level, which a device may keep from strangers."""
        if self.battery_percent is None:
            raise att.ATT_Error(att.ErrorCode.INSUFFICIENT_AUTHENTICATION)
        return self.battery_percent

    async def drain(self, battery_percent: int) -> None:
        """Lower the battery's level and tell whoever has subscribed to it."""
        self.battery_percent = battery_percent
        await self.device.notify_subscribers(self._battery_service.battery_level_characteristic, battery_percent)

    async def power_on(self) -> None:
        """Switch on and advertise."""
        await self.device.power_on()
        await self.advertise()

    async def advertise(self) -> None:
        """Be found now, and again after every link."""
        services = [UUID.from_16_bits(one) for one in self.card.services]
        content: list[DataType] = [
            data_types.Flags(AdvertisingData.Flags.LE_GENERAL_DISCOVERABLE_MODE),
            data_types.CompleteListOf16BitServiceUUIDs(services),
            data_types.CompleteLocalName(self.card.name),
        ]
        await self.device.start_advertising(auto_restart=True, advertising_data=bytes(AdvertisingData(content)))

    async def hide(self) -> None:
        """Advertise no more."""
        await self.device.stop_advertising()

    @property
    def connected(self) -> bool:
        """Whether a central holds a link."""
        return bool(self.device.connections)

    def subscribed(self, characteristic: gatt.Characteristic[bytes]) -> bool:
        """Whether somebody has asked for this characteristic's values."""
        return any(any(cccds.get(characteristic.handle, b"")) for cccds in self.device.gatt_server.subscribers.values())

    async def send(self, characteristic: gatt.Characteristic[bytes], value: bytes) -> bool:
        """Send a value to whoever has subscribed. Returns whether somebody has.

        An indication is sent when it has been confirmed.
        """
        characteristic.value = value
        if not self.subscribed(characteristic):
            return False
        if characteristic.properties & Property.INDICATE:
            await self.device.indicate_subscribers(characteristic, value)
        else:
            await self.device.notify_subscribers(characteristic, value)
        return True

    async def drop(self) -> None:
        """End the link from this side, and advertise again."""
        for connection in list(self.device.connections.values()):
            with suppress(ProtocolError):
                await connection.disconnect()


class Broadcaster:
    """A sensor that only broadcasts, under the Environmental Sensing service's number or a maker's."""

    def __init__(self, air: Air, card: Card) -> None:
        self.card = card
        self.device, _ = air.station(card.name, card.address)

    async def power_on(self) -> None:
        """Switch on, silent yet."""
        await self.device.power_on()

    async def say(self, *, service: int | None = None, maker: int | None = None, data: bytes = b"") -> None:
        """Broadcast these bytes until told otherwise."""
        content: list[DataType] = [data_types.CompleteLocalName(self.card.name)]
        if service is not None:
            content.append(data_types.ServiceData16BitUUID(UUID.from_16_bits(service), data))
        if maker is not None:
            content.append(data_types.ManufacturerSpecificData(maker, data))
        await self.device.start_advertising(
            advertising_type=AdvertisingType.UNDIRECTED, advertising_data=bytes(AdvertisingData(content))
        )

    async def hush(self) -> None:
        """Broadcast no more."""
        await self.device.stop_advertising()
