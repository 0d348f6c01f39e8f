"""What a connected device can give: every characteristic that is read without help, with its quantity and step."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bleak import BleakClient
from bleak.backends.characteristic import BleakGATTCharacteristic

from fillmark_agent.bluetooth import sig
from fillmark_agent.bluetooth.identity import full_uuid, sig_number
from fillmark_agent.bluetooth.presentation import Presentation
from fillmark_agent.bluetooth.source import describe, read_or_none
from fillmark_agent.edge.outcome import Fault, Measurement
from fillmark_agent.edge.units import to_inside

# GATT Specification Supplement, the characteristics' own sections.
_STEPS = {sig.WEIGHT_MEASUREMENT: 0.005, sig.PRESSURE: 0.1, sig.TEMPERATURE: 0.01, sig.HUMIDITY: 0.01}
_READINGS = {"notify", "indicate", "read"}
_SERVICES_OF_THE_LINK = {0x1800, 0x1801, 0x180A, 0x180F}


@dataclass(frozen=True, slots=True)
class Offer:
    """One value that a device gives.

    Attributes:
        uuid: of the characteristic, as a configuration has it.
        quantity: mass, pressure, temperature, humidity or stable; None when nothing says how to read it.
        step: smallest step in the unit inside, None when unknown.
        why: how it is read, or why not.
    """

    uuid: str
    quantity: str | None
    step: float | None
    why: str


@dataclass(frozen=True, slots=True)
class Survey:
    """What a device says of itself and what it offers."""

    said: tuple[tuple[str, str], ...]
    battery_percent: float | None
    offers: tuple[Offer, ...]

    def best(self) -> tuple[Offer, ...]:
        """For each quantity the offer with the finest step."""
        chosen: dict[str, Offer] = {}
        for offer in self.offers:
            if offer.quantity is None:
                continue
            known = chosen.get(offer.quantity)
            if known is None or (offer.step or 1e9) < (known.step or 1e9):
                chosen[offer.quantity] = offer
        return tuple(chosen.values())


async def survey(client: BleakClient) -> Survey:
    """Look at everything on a connected device.

    Raises:
        BleakError: the link failed.
    """
    said, battery = [], None
    for number, what in sig.DEVICE_INFORMATION.items():
        if (payload := await read_or_none(client, full_uuid(f"{number:04x}"))) is not None:
            said.append((what, sig.text(payload)))
    if (payload := await read_or_none(client, full_uuid(f"{sig.BATTERY_LEVEL:04x}"))) is not None:
        outcome = sig.battery_level(payload)
        battery = outcome.value if isinstance(outcome, Measurement) else None
    return Survey(tuple(said), battery, tuple([await _offer(client, one) for one in _candidates(client)]))


def _candidates(client: BleakClient) -> Sequence[BleakGATTCharacteristic]:
    return [
        one
        for service in client.services
        if sig_number(service.uuid) not in _SERVICES_OF_THE_LINK
        for one in service.characteristics
        if _READINGS & set(one.properties) and sig_number(one.uuid) != sig.WEIGHT_FEATURE
    ]


async def _offer(client: BleakClient, one: BleakGATTCharacteristic) -> Offer:
    number = sig_number(one.uuid)
    name = f"{number:04x}" if number is not None else one.uuid
    if number is not None and number in sig.DECODERS:
        step = await _scale_step(client) if number == sig.WEIGHT_MEASUREMENT else None
        return Offer(name, sig.DECODERS[number][0], step or _STEPS[number], "a profile of the Bluetooth SIG")
    described = await describe(client, one)
    if isinstance(described, Presentation):
        line = to_inside(described.unit, described.quantity) if described.unit is not None else None
        step = described.step * line.factor if described.step is not None and line is not None else None
        return Offer(name, described.quantity, step, "describes itself")
    why = described.text if isinstance(described, Fault) else "does not describe itself; declare its layout"
    return Offer(name, None, None, why)


async def _scale_step(client: BleakClient) -> float | None:
    payload = await read_or_none(client, full_uuid(f"{sig.WEIGHT_FEATURE:04x}"))
    if payload is None:
        return None
    features = sig.weight_features(payload)
    return None if isinstance(features, Fault) else features.resolution_kg
