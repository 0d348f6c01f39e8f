"""Searches for one device among all that advertise."""

from __future__ import annotations

import asyncio
from dataclasses import dataclass

from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData

from fillmark_agent.bluetooth.identity import Target
from fillmark_agent.bluetooth.radio import Radio
from fillmark_agent.device import DeviceNotFoundError


@dataclass(frozen=True, slots=True)
class Found:
    """A device that was heard, and how loudly."""

    device: BLEDevice
    rssi_dbm: float


async def search(radio: Radio, target: Target, within_s: float) -> Found:
    """Listen until the device is heard.

    Raises:
        DeviceNotFoundError: not within so many real seconds.
        BleakError: the adapter cannot listen.
    """
    found: asyncio.Future[Found] = asyncio.get_running_loop().create_future()
    others: set[str] = set()

    def hear(device: BLEDevice, advertisement: AdvertisementData) -> None:
        if not target.matches(device.address, advertisement.local_name or device.name):
            others.add(device.address)
        elif not found.done():
            found.set_result(Found(device, float(advertisement.rssi)))

    await radio.listen(hear)
    try:
        async with asyncio.timeout(within_s):
            return await found
    except TimeoutError as error:
        raise DeviceNotFoundError(target.unseen(others)) from error
    finally:
        await radio.leave(hear)
