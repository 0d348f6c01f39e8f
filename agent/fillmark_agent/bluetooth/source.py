"""Where a channel's bytes come from on a connected device, and which decoder reads them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from bleak import BleakClient
from bleak.backends.characteristic import BleakGATTCharacteristic
from bleak.exc import BleakCharacteristicNotFoundError, BleakError

from fillmark_agent.bluetooth import presentation, sig
from fillmark_agent.bluetooth.identity import full_uuid, sig_number
from fillmark_agent.bluetooth.table import BluetoothChannel
from fillmark_agent.edge.outcome import Fault, FaultKind, Outcome

Decode = Callable[[bytes], Outcome | None]
DESCRIPTOR = full_uuid(f"{presentation.DESCRIPTOR:04x}")


@dataclass(frozen=True, slots=True)
class Source:
    """One characteristic, how its values are read, and how often (seconds) when it does not send them itself."""

    characteristic: BleakGATTCharacteristic
    decode: Decode
    poll_s: float

    @property
    def tells(self) -> bool:
        """Whether it sends its values by itself."""
        return bool({"notify", "indicate"} & set(self.characteristic.properties))


async def resolve(client: BleakClient, channel: BluetoothChannel) -> Source | Fault:
    """The source of a channel on a connected device.

    Returns:
        A fault when the characteristic is there and nothing says how to read it.

    Raises:
        BleakCharacteristicNotFoundError: the device has no such characteristic.
        BleakError: the link failed.
    """
    characteristic = client.services.get_characteristic(channel.characteristic)
    if characteristic is None:
        raise BleakCharacteristicNotFoundError(channel.characteristic)
    decode = await decoder(client, characteristic, channel)
    return decode if isinstance(decode, Fault) else Source(characteristic, decode, channel.poll_s)


async def decoder(
    client: BleakClient, characteristic: BleakGATTCharacteristic, channel: BluetoothChannel
) -> Decode | Fault:
    """What the user declared, or else the Bluetooth SIG's layout, or else what the device says itself."""
    if channel.layout is not None:
        return channel.layout.layout().read
    number = sig_number(characteristic.uuid)
    if number is not None and number in sig.DECODERS:
        return sig.DECODERS[number][1]
    described = await describe(client, characteristic)
    if described is None:
        return Fault(
            FaultKind.UNREADABLE,
            f"the characteristic {characteristic.uuid} does not describe itself; declare its layout",
        )
    return described if isinstance(described, Fault) else described.read


async def describe(
    client: BleakClient, characteristic: BleakGATTCharacteristic
) -> presentation.Presentation | Fault | None:
    """The presentation format of a characteristic, None when it has none."""
    descriptor = characteristic.get_descriptor(DESCRIPTOR)
    if descriptor is None:
        return None
    return presentation.parse(bytes(await client.read_gatt_descriptor(descriptor.handle)))


async def read_or_none(client: BleakClient, uuid: str) -> bytes | None:
    """A value that is good to have: None where the device has none, or does not let us read it.

    Raises:
        BleakError: the link failed.
    """
    characteristic = client.services.get_characteristic(uuid)
    if characteristic is None or "read" not in characteristic.properties:
        return None
    try:
        return bytes(await client.read_gatt_char(characteristic))
    except BleakError:
        if not client.is_connected:
            raise
        return None
