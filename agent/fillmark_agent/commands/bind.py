"""`fillmark-agent bind`: connect to a device, say what it is and offers, and write it into the configuration."""

from __future__ import annotations

import argparse
import asyncio
import os
import re
from pathlib import Path
from typing import Any

import tomlkit
from bleak.backends.device import BLEDevice
from rich.console import Console
from rich.markup import escape

from fillmark.wire.channels import QUANTITIES
from fillmark.wire.clock import Clock
from fillmark_agent.bluetooth.device import BluetoothDevice, Waits
from fillmark_agent.bluetooth.finder import search
from fillmark_agent.bluetooth.identity import Target
from fillmark_agent.bluetooth.radio import RADIO_ERRORS, Radio, words
from fillmark_agent.bluetooth.survey import Offer, Survey, survey
from fillmark_agent.bluetooth.table import BluetoothTable
from fillmark_agent.commands.common import FAILED, CommandError, add_radio, radio_of, read_document, write_document
from fillmark_agent.config_file import ConfigError, parse
from fillmark_agent.config_table import NAME
from fillmark_agent.device import DeviceError

_SEARCH_S = 10.0
_CONNECT_S = 20.0


def add(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    parser.add_argument("device", help="the identifier that `scan` shows, or the name that the device advertises")
    parser.add_argument(
        "--as", dest="name", required=True, metavar="NAME", help="what it is in the bay: scale, low, high, suction, …"
    )
    parser.add_argument("--config", type=Path, required=True, metavar="FILE", help="the configuration to write into")
    parser.add_argument("--bay", default="bay-1", metavar="NAME", help="the bay (default: bay-1)")
    parser.add_argument(
        "--show", type=float, default=3.0, metavar="SECONDS", help="how long to show live values (default: 3)"
    )
    add_radio(parser)


def run(given: argparse.Namespace) -> int:
    """Run the command; its exit status."""
    console = Console(highlight=False)
    try:
        asyncio.run(_bind(given, console))
    except (CommandError, DeviceError) as error:
        Console(stderr=True, highlight=False).print(escape(str(error)), soft_wrap=True)
        return FAILED
    return 0


async def _bind(given: argparse.Namespace, console: Console) -> None:
    await bind(given, radio_of(given), console)


async def bind(given: argparse.Namespace, radio: Radio, console: Console) -> None:
    """Do it.

    Raises:
        CommandError: the device offers nothing that can be read, or the configuration cannot take it.
        DeviceError: it is not there.
    """
    if re.fullmatch(NAME, given.name) is None:
        raise CommandError(f'"{given.name}" is no name; use letters, digits and - _ .')
    document = read_document(given.config)
    if any(given.name == str(one.get("name")) for one in document.get("devices", [])):
        raise CommandError(
            f'{given.config} has a device "{given.name}" already; take it out there, or use another name'
        )
    device, found = await _look(radio, given.device)
    _tell(found, console)
    chosen = found.best()
    if not chosen:
        raise CommandError("nothing of it can be read without help; declare a layout, see docs/devices.md")
    table = _table(given, device, chosen)
    document.setdefault("devices", tomlkit.aot()).append(_written(table))
    _check(tomlkit.dumps(document), given.config)
    write_document(given.config, document)
    console.print(f"Written into {escape(str(given.config))}:", soft_wrap=True)
    console.print(escape(tomlkit.dumps({"devices": [table]}).strip()), soft_wrap=True)
    await _live(table, radio, given.show, console)


async def _look(radio: Radio, wanted: str) -> tuple[BLEDevice, Survey]:
    try:
        found = await search(radio, Target(wanted, wanted), _SEARCH_S)
        async with radio.connection(found.device, lambda: None, _CONNECT_S) as client:
            return found.device, await survey(client)
    except RADIO_ERRORS as error:
        raise CommandError(
            f"{wanted} was heard, but the link failed ({words(error)}); try again, or where it "
            "only broadcasts declare it as in docs/devices.md"
        ) from error


def _tell(found: Survey, console: Console) -> None:
    for what, text in found.said:
        console.print(f"{what}: {escape(text)}")
    if found.battery_percent is not None:
        console.print(f"battery: {found.battery_percent:.0f} %")
    best = found.best()
    for offer in found.offers:
        step = f", steps of {offer.step:g} {_unit(offer)}" if offer.step is not None else ""
        mark = "*" if offer in best else " "
        line = f"{mark} {offer.uuid}: {offer.quantity or 'unknown'}{step}; {escape(offer.why)}"
        console.print(line, soft_wrap=True)


def _unit(offer: Offer) -> str:
    return (QUANTITIES[offer.quantity].unit or "") if offer.quantity is not None else ""


def _table(given: argparse.Namespace, device: BLEDevice, chosen: tuple[Offer, ...]) -> dict[str, Any]:
    name = {"local_name": device.name} if device.name else {}
    return {
        "driver": "bluetooth",
        "name": given.name,
        "bay": given.bay,
        "address": device.address,
        **name,
        "channels": [{"channel": f"{given.name}/{offer.quantity}", "characteristic": offer.uuid} for offer in chosen],
    }


def _written(table: dict[str, Any]) -> tomlkit.items.Table:
    written = tomlkit.table()
    for key, value in table.items():
        written[key] = value
    return written


def _check(text: str, path: Path) -> None:
    try:
        parse(text, path, os.environ)
    except ConfigError as error:
        raise CommandError("\n".join(("nothing was written:", *error.problems))) from error


async def _live(table: dict[str, Any], radio: Radio, seconds: float, console: Console) -> None:
    """Show values as the agent will read them."""
    device = BluetoothDevice(BluetoothTable.model_validate(table), Clock(), radio, waits=Waits(quiet_s=seconds))
    try:
        async with asyncio.timeout(seconds + _CONNECT_S):
            await device.find()
            await device.connect()
            async with asyncio.timeout(seconds):
                async for pack in device.samples():
                    for record in pack:
                        value = record.text if record.value is None else f"{record.value:g} {record.unit}"
                        console.print(f"  {record.name} {escape(str(record.flag if value is None else value))}")
    except TimeoutError:
        pass
    finally:
        await device.disconnect()
