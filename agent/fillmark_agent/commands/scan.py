"""`fillmark-agent scan`: which Bluetooth devices are near, how loud, and what they offer."""

from __future__ import annotations

import argparse
import asyncio
from collections.abc import Mapping
from dataclasses import dataclass

from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData
from bleak.uuids import uuidstr_to_str
from rich import box
from rich.console import Console
from rich.table import Table

from fillmark_agent.bluetooth.identity import sig_number
from fillmark_agent.bluetooth.radio import RADIO_ERRORS, Radio
from fillmark_agent.commands.common import FAILED, add_radio, radio_of

OFFERS: Mapping[int, str] = {
    0x181D: "Weight Scale", 0x181A: "Environmental Sensing", 0x180F: "Battery", 0x180A: "Device Information",
}  # fmt: skip
"""Services that the agent reads by itself."""


@dataclass(slots=True)
class Near:
    """One device that was heard.

    Attributes:
        identifier: what `bind` takes.
        name: that it advertises.
        rssi_dbm: loudest signal.
        services: UUIDs of the services it advertises.
        data: bytes of its broadcasts, by where they are.
    """

    identifier: str
    name: str | None
    rssi_dbm: int
    services: frozenset[str]
    data: dict[str, bytes]

    @property
    def offers(self) -> str:
        """For people: services that are known, then what it broadcasts."""
        known = [OFFERS.get(sig_number(uuid) or 0) or uuidstr_to_str(uuid) for uuid in sorted(self.services)]
        said = [f"{place}: {data.hex(' ')}" for place, data in self.data.items()]
        return ", ".join([*known, *said])


async def listen(radio: Radio, seconds: float) -> list[Near]:
    """Everything that is heard within so many real seconds: what the agent reads by itself first, then the loudest.

    Raises:
        BleakError: the adapter cannot listen.
    """
    found: dict[str, Near] = {}

    def hear(device: BLEDevice, said: AdvertisementData) -> None:
        near = found.setdefault(device.address, Near(device.address, None, said.rssi, frozenset(), {}))
        near.name = said.local_name or device.name or near.name
        near.rssi_dbm = max(near.rssi_dbm, said.rssi)
        near.services |= frozenset(said.service_uuids)
        near.data |= {
            f"service_data {uuid[4:8] if sig_number(uuid) else uuid}": data for uuid, data in said.service_data.items()
        }
        near.data |= {f"manufacturer 0x{number:04x}": data for number, data in said.manufacturer_data.items()}

    await radio.listen(hear)
    try:
        await asyncio.sleep(seconds)
    finally:
        await radio.leave(hear)
    return sorted(found.values(), key=lambda near: (not near.services, -near.rssi_dbm, near.identifier))


def show(nears: list[Near], console: Console) -> None:
    """Print the list."""
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False)
    for heading in ("Identifier", "Name", "Signal", "Offers"):
        table.add_column(heading, no_wrap=heading == "Identifier", justify="right" if heading == "Signal" else "left")
    for near in nears:
        table.add_row(near.identifier, near.name or "", f"{near.rssi_dbm} dBm", near.offers)
    console.print(table)


def add(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    parser.add_argument("--seconds", type=float, default=5.0, metavar="N", help="how long to listen (default: 5)")
    add_radio(parser)


async def _scan(given: argparse.Namespace) -> list[Near]:
    return await listen(radio_of(given), given.seconds)


def run(given: argparse.Namespace) -> int:
    """Run the command; its exit status."""
    console = Console(highlight=False)
    try:
        nears = asyncio.run(_scan(given))
    except RADIO_ERRORS as error:
        Console(stderr=True, highlight=False).print(
            f"the Bluetooth adapter cannot listen: {error}; see that there is one, that it is switched on, "
            "and on Linux that bluetoothd runs",
            soft_wrap=True,
        )
        return FAILED
    if not nears:
        console.print(
            "No Bluetooth device was heard. Switch the device on, bring it near, end other programs' links to it."
        )
        return FAILED
    show(nears, console)
    console.print("Bind one with: fillmark-agent bind IDENTIFIER --as NAME --config FILE")
    return 0
