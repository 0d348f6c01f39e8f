"""A scale and probes as peripherals: open profiles, and what describes itself."""

from __future__ import annotations

import struct

from bumble import gatt
from bumble.core import UUID

from fillmark_sim.bluetooth.air import Air
from fillmark_sim.bluetooth.peripheral import Card, Peripheral, presentation, reading

WEIGHT_SCALE, ENVIRONMENT = 0x181D, 0x181A
# Made up for these instruments.
FINE_SERVICE = "8d6f0001-5a4e-4c52-9f3b-0f2f6f1c7a10"
FINE_MASS = "8d6f0002-5a4e-4c52-9f3b-0f2f6f1c7a10"
FINE_STABLE = "8d6f0003-5a4e-4c52-9f3b-0f2f6f1c7a10"
RAW_MESSAGE = "8d6f0004-5a4e-4c52-9f3b-0f2f6f1c7a10"
_SINT32, _BOOLEAN, _KILOGRAM, _UNITLESS = 0x10, 0x01, 0x2702, 0x2700
_NO_BODY = 0


class Scale(Peripheral):
    """A weighing scale: the Weight Scale service in steps of 5 g, and a mass that describes itself, in steps of 0.1 g.

    It also sends a raw message of its own, for users who declare a layout: 0xA1, mass (sint32, 0.1 g), flags (bit 0
    stable).
    """

    def __init__(self, air: Air, card: Card) -> None:
        self.weight = reading(0x2A9D, "indicate")
        self.mass = reading(FINE_MASS, descriptors=[presentation(_SINT32, -4, _KILOGRAM)])
        self.stable = reading(FINE_STABLE, descriptors=[presentation(_BOOLEAN, 0, _UNITLESS)])
        self.raw = reading(RAW_MESSAGE)
        feature = reading(0x2A9E, "read")
        feature.value = struct.pack("<I", 0b0111 << 3)
        super().__init__(
            air,
            card,
            [
                gatt.Service(UUID.from_16_bits(WEIGHT_SCALE), [self.weight, feature]),
                gatt.Service(UUID(FINE_SERVICE), [self.mass, self.stable, self.raw]),
            ],
        )

    async def weigh(self, mass_kg: float, *, stable: bool = True) -> bool:
        """Send a mass to whoever has subscribed to any of the characteristics. Returns whether somebody has."""
        fine = round(mass_kg * 1e4)
        sent = [
            await self.send(self.mass, struct.pack("<i", fine)),
            await self.send(self.raw, struct.pack("<BiB", 0xA1, fine, stable)),
        ]
        if self.subscribed(self.weight):
            sent.append(await self.send(self.weight, struct.pack("<BH", _NO_BODY, round(mass_kg * 200))))
        if self.subscribed(self.stable):
            sent.append(await self.send(self.stable, bytes([stable])))
        return any(sent)


class Probe(Peripheral):
    """A clamp probe: the Environmental Sensing service with pressure, temperature and humidity."""

    def __init__(self, air: Air, card: Card) -> None:
        self.pressure = reading(0x2A6D)
        self.temperature = reading(0x2A6E)
        self.humidity = reading(0x2A6F)
        service = gatt.Service(UUID.from_16_bits(ENVIRONMENT), [self.pressure, self.temperature, self.humidity])
        super().__init__(air, card, [service])

    async def press(self, pressure_pa: float) -> bool:
        """Send a pressure."""
        return await self.send(self.pressure, struct.pack("<I", round(pressure_pa * 10)))

    async def warm(self, temperature_c: float) -> bool:
        """Send a temperature."""
        return await self.send(self.temperature, struct.pack("<h", round(temperature_c * 100)))

    async def moisten(self, humidity_percent: float) -> bool:
        """Send a relative humidity."""
        return await self.send(self.humidity, struct.pack("<H", round(humidity_percent * 100)))
