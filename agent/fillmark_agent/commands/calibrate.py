"""`fillmark-agent calibrate`: compare a channel with a reference, and write zero and span into the configuration."""

from __future__ import annotations

import argparse
import asyncio
import datetime as dt
import os
import sys
from collections.abc import Callable, Iterator, MutableMapping
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.markup import escape

from fillmark.wire.channels import QUANTITIES
from fillmark.wire.clock import Clock
from fillmark_agent.bluetooth.radio import Radio
from fillmark_agent.commands.common import (
    FAILED,
    WRONG,
    CommandError,
    add_radio,
    radio_of,
    read_document,
    write_document,
)
from fillmark_agent.config import AgentConfig, DeviceTable
from fillmark_agent.config_file import ConfigError, load
from fillmark_agent.device import Device, DeviceError
from fillmark_agent.drivers.build import BUILDERS, Shared
from fillmark_agent.edge.calibration import CalibrationError, CalibrationTable, Point, calibrate
from fillmark_agent.edge.channel_table import ChannelTable

_LEAST_READINGS = 3
_CONNECT_S = 60.0
Ask = Callable[[str], object]


def add(parser: argparse.ArgumentParser) -> None:
    """The command's options."""
    parser.add_argument("channel", help="a channel of the configuration, as scale/mass")
    parser.add_argument("--config", type=Path, required=True, metavar="FILE", help="the configuration")
    parser.add_argument(
        "--at", action="append", required=True, metavar="VALUE",
        help='what the reference says, as "0 g"; give a second one for the span',
    )  # fmt: skip
    parser.add_argument(
        "--uncertainty",
        required=True,
        metavar="U",
        help='the standard uncertainty (k = 1) of the reference, as "0.3 g"',
    )
    parser.add_argument("--against", default="", metavar="TEXT", help='what the reference is, as "weight 2 kg, no. 7"')
    parser.add_argument("--seconds", type=float, default=5.0, metavar="N", help="how long to read each (default: 5)")
    add_radio(parser)


def run(given: argparse.Namespace) -> int:
    """Run the command; its exit status."""
    console, problems = Console(highlight=False), Console(stderr=True, highlight=False)
    try:
        made = asyncio.run(_calibrate(given, console))
    except ConfigError as error:
        for problem in error.problems:
            problems.print(escape(problem), soft_wrap=True)
        return WRONG
    except (CommandError, CalibrationError, DeviceError, ValueError) as error:
        problems.print(escape(str(error)), soft_wrap=True)
        return FAILED
    console.print(f"zero {made.zero:.6g}, span {made.span:.6g}, standard uncertainty {made.uncertainty:g}")
    console.print(f"Written into {escape(str(given.config))}; restart the agent to use it.", soft_wrap=True)
    return 0


async def _calibrate(given: argparse.Namespace, console: Console) -> CalibrationTable:
    return await compare(given, radio_of(given), console, _wait_for_enter)


def _wait_for_enter(prompt: str) -> None:
    sys.stdout.write(prompt)
    sys.stdout.flush()
    sys.stdin.readline()


async def compare(given: argparse.Namespace, radio: Radio, console: Console, ask: Ask) -> CalibrationTable:
    """Read the channel at each reference, calibrate, write it down.

    Raises:
        CommandError: no such channel, too few readings, or the file cannot be written.
        CalibrationError: the comparisons give no calibration.
        ConfigError: the configuration is wrong.
        DeviceError: the device is not there.
        ValueError: a reference or the uncertainty is no quantity of this channel.
    """
    document = read_document(given.config)
    config = load(given.config, os.environ)
    table, channel = _channel(config, given.channel)
    references = [_number(channel, text) for text in given.at]
    uncertainty = _difference(channel, given.uncertainty)
    device = BUILDERS[type(table)](table, Shared(Clock(), radio))
    points = []
    for text, reference in zip(given.at, references, strict=True):
        await asyncio.to_thread(ask, f"Bring {given.channel} to {text}, let it settle, press Enter ")
        shown = await _read(device, f"{_bay(table)}/{given.channel}", given.seconds)
        console.print(
            f"  {len(shown)} readings, mean {sum(shown) / len(shown):.6g} {QUANTITIES[channel.quantity].unit}"
        )
        points.append(Point(reference - channel.shift, uncertainty, shown))
    made = calibrate(points, dt.datetime.now(dt.UTC).date(), given.against)
    _place(document, given.channel)["calibration"] = _inline(made)
    write_document(given.config, document)
    return made


def _bay(table: DeviceTable) -> str:
    return table.bay or ""


def _channel(config: AgentConfig, name: str) -> tuple[DeviceTable, ChannelTable]:
    known = []
    for table in config.devices:
        for channel in _channels(table):
            if channel.channel == name:
                if channel.quantity == "stable":
                    raise CommandError(f"{name} is a flag; there is nothing to calibrate")
                return table, channel
            known.append(channel.channel)
    raise CommandError(f"no device feeds {name}; known: {', '.join(known) or 'none'}")


def _channels(table: DeviceTable) -> Iterator[ChannelTable]:
    for value in vars(table).values():
        for one in value if isinstance(value, tuple) else (value,):
            if isinstance(one, ChannelTable):
                yield one


def _number(channel: ChannelTable, text: str) -> float:
    value = channel.inside(text)
    if value is None:
        raise ValueError("give a value")
    return value


def _difference(channel: ChannelTable, text: str) -> float:
    """A difference of two values: for a temperature, "0.2 K" is 0.2, not -272.95."""
    if channel.quantity == "temperature":
        return _number(channel, text) + 273.15 if text.strip().endswith("K") else abs(float(text))
    return abs(_number(channel, text))


async def _read(device: Device, name: str, seconds: float) -> list[float]:
    """Raw values of a channel over so many real seconds."""
    raw: list[float] = []
    plain: list[float] = []
    try:
        async with asyncio.timeout(_CONNECT_S):
            await device.find()
            await device.connect()
        async with asyncio.timeout(seconds):
            async for pack in device.samples():
                raw += [one.value for one in pack if one.name == f"{name}/raw" and one.value is not None]
                plain += [one.value for one in pack if one.name == name and one.value is not None]
    except TimeoutError:
        pass
    finally:
        await device.disconnect()
    if len(raw or plain) < _LEAST_READINGS:
        raise CommandError(f"{name} gave {len(raw or plain)} readings in {seconds:g} s; {_LEAST_READINGS} are needed")
    return raw or plain


def _place(document: MutableMapping[str, Any], name: str) -> MutableMapping[str, Any]:
    """The table of the channel in the document as it is written."""
    for device in document["devices"]:
        for value in list(device.values()):
            for one in value if isinstance(value, list) else [value]:
                if isinstance(one, dict) and one.get("channel") == name:
                    return one
        if device.get("driver") in {"hid-scale", "line-scale"} and "mass" not in device and name == "scale/mass":
            device["mass"] = {"channel": name}
            place: MutableMapping[str, Any] = device["mass"]
            return place
    raise CommandError(f"{name} is not written in the configuration")


def _inline(made: CalibrationTable) -> dict[str, Any]:
    return {
        "zero": made.zero, "span": made.span, "date": made.date,
        "uncertainty": made.uncertainty, "reference": made.reference,
    }  # fmt: skip
