"""A simulated bay on the air: its scale and pressure probes have links, its clamps only broadcast.

What the technician does is no radio's business and comes back, as does every channel that no instrument here carries.
"""

from __future__ import annotations

import asyncio
import struct
from collections.abc import Awaitable, Callable, Mapping, Sequence

from bumble.gatt_server import Server as GattServer

from fillmark.wire.senml import Record
from fillmark_sim.bluetooth.adapter import Adapter
from fillmark_sim.bluetooth.air import Air
from fillmark_sim.bluetooth.instruments import ENVIRONMENT, WEIGHT_SCALE, Probe, Scale
from fillmark_sim.bluetooth.peripheral import Broadcaster, Card

SCALE = Card("Bench Scale", "F0:00:00:00:00:01", (WEIGHT_SCALE,), battery_percent=87)
PROBES: Mapping[str, Card] = {
    "low": Card("Low Side", "F0:00:00:00:00:02", (ENVIRONMENT,), battery_percent=74),
    "high": Card("High Side", "F0:00:00:00:00:03", (ENVIRONMENT,), battery_percent=71),
}
CLAMPS: Mapping[str, Card] = {
    device: Card(f"Clamp {device}", f"D0:00:00:00:00:0{number}")
    for number, device in enumerate(("suction", "liquid", "vent", "ambient", "container"), start=1)
}
AT_REST = (
    ("scale/mass", "kg", 2.0143), ("low/pressure", "Pa", 574_300.0), ("high/pressure", "Pa", 574_600.0),
    ("suction/temperature", "Cel", 20.6), ("liquid/temperature", "Cel", 20.8), ("vent/temperature", "Cel", 21.2),
    ("ambient/temperature", "Cel", 20.9), ("container/temperature", "Cel", 21.0),
)  # fmt: skip
_REST_EVERY_S = 0.1


class BayOnAir:
    """The instruments of one bay, and the adapter that hears them."""

    def __init__(self) -> None:
        self.air = Air()
        self.adapter = Adapter(self.air)
        self.scale = Scale(self.air, SCALE)
        self.probes = {device: Probe(self.air, card) for device, card in PROBES.items()}
        self.clamps = {device: Broadcaster(self.air, card) for device, card in CLAMPS.items()}
        self._stable = True
        self._resting: asyncio.Task[None] | None = None
        self._subscriptions = asyncio.Event()
        for one in (self.scale, *self.probes.values()):
            one.device.gatt_server.on(GattServer.EVENT_CHARACTERISTIC_SUBSCRIPTION, self._note)

    def _note(self, *_: object) -> None:
        self._subscriptions.set()

    async def power_on(self) -> None:
        """Switch everything on; the clamps say no more than their names until there are values."""
        await self.adapter.power_on()
        for one in (self.scale, *self.probes.values()):
            await one.power_on()
        for clamp in self.clamps.values():
            await clamp.power_on()
            await clamp.say()

    async def at_rest(self) -> None:
        """Switch everything on and let it show a bay where nothing happens, for ever."""
        await self.power_on()
        self._resting = asyncio.create_task(self._rest())

    async def _rest(self) -> None:
        task = asyncio.current_task()
        # The stack in memory can lose a cancellation (asyncio.wait_for of Python 3.11).
        while task is not None and not task.cancelling():
            await self.send([Record(f"bay-1/{name}", 0.0, unit=unit, value=value) for name, unit, value in AT_REST])
            await asyncio.sleep(_REST_EVERY_S)

    async def connected(self, within_s: float) -> bool:
        """Wait until somebody has subscribed to the scale and both probes, at most so many real seconds."""
        try:
            async with asyncio.timeout(within_s):
                while not self._all_subscribed():
                    self._subscriptions.clear()
                    await self._subscriptions.wait()
        except TimeoutError:
            return False
        return True

    def _all_subscribed(self) -> bool:
        return self.scale.subscribed(self.scale.mass) and all(
            probe.subscribed(probe.pressure) for probe in self.probes.values()
        )

    async def send(self, records: Sequence[Record]) -> tuple[Record, ...]:
        """Send what instruments measured over the air. Returns the records that none of them carries."""
        rest = []
        for record in sorted(records, key=lambda one: one.flag is None):  # the flag goes with the mass that follows
            way = self._way(record)
            if way is None:
                rest.append(record)
            else:
                await way()
        return tuple(rest)

    def _way(self, record: Record) -> Callable[[], Awaitable[object]] | None:
        _, _, local = record.name.partition("/")
        device, _, quantity = local.partition("/")
        if local == "scale/stable" and record.flag is not None:
            self._stable = record.flag
            return _nothing
        value = record.value
        if value is None:
            return None
        if local == "scale/mass":
            return lambda: self.scale.weigh(value, stable=self._stable)
        if quantity == "pressure" and device in self.probes:
            return lambda: self.probes[device].press(value)
        if quantity == "temperature" and device in self.clamps:
            return lambda: self.clamps[device].say(service=ENVIRONMENT, data=struct.pack("<h", round(value * 100)))
        return None


async def _nothing() -> None:
    pass
