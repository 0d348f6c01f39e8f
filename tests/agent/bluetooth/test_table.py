"""The tables of Bluetooth devices: what is taken, and every mistake with its line and what would do."""

from __future__ import annotations

from pathlib import Path

import pytest
from pydantic import BaseModel

from fillmark.wire.clock import Clock
from fillmark_agent.bluetooth.broadcast import BroadcastDevice
from fillmark_agent.bluetooth.device import BluetoothDevice
from fillmark_agent.bluetooth.table import BluetoothChannel, BluetoothTable, BroadcastChannel, BroadcastTable
from fillmark_agent.config_file import ConfigError, parse
from fillmark_agent.drivers.build import build_devices
from fillmark_agent.edge.calibration import CalibrationTable
from fillmark_agent.edge.layout import LayoutTable

GOOD = """\
[[devices]]
driver = "bluetooth"
name = "scale"
address = "F0:F1:F2:F3:F4:F5"
interval_s = 0.5

[[devices.channels]]
channel = "scale/mass"
characteristic = "2a9d"
load = "net"
tare = "1.2 kg"
calibration = {zero = 0.002, span = 1.0004, date = 2026-03-14, uncertainty = 0.0005}

[[devices]]
driver = "bluetooth-broadcast"
name = "vent"
local_name = "AIR"

[[devices.channels]]
channel = "vent/temperature"
manufacturer = 0xffff
layout = {offset = 2, format = "sint16", scale = 0.01, unit = "Cel"}
"""


def test_a_good_file_becomes_drivers_that_share_one_radio() -> None:
    config = parse(GOOD, Path("bay.toml"), {})
    scale, vent = build_devices(config, Clock())
    assert isinstance(scale, BluetoothDevice)
    assert isinstance(vent, BroadcastDevice)
    assert (scale.info.channels, scale.info.expected_interval_s) == (("bay-1/scale/mass",), 0.5)
    (table, _) = config.devices
    assert isinstance(table, BluetoothTable)
    assert table.channels[0].characteristic == "00002a9d-0000-1000-8000-00805f9b34fb"


@pytest.mark.parametrize(
    ("right", "wrong", "message"),
    [
        ('"2a9d"', '"2a9"', '9: devices[0].channels[0].characteristic: "2a9" is no UUID; give four digits of the'),
        ('tare = "1.2 kg"', "", '7: devices[0].channels[0]: load = "net" is for a mass and needs its tare'),
        ('"1.2 kg"', '"1.2 bar"', "7: devices[0].channels[0]: 'bar' is no unit of mass"),
        ("span = 1.0004", "span = 2.3", "12: devices[0].channels[0].calibration.span: 2.3: input should be less"),
        ('"scale/mass"', '"mass"', '8: devices[0].channels[0].channel: "mass": string should match pattern'),
        ('local_name = "AIR"\n', "", "14: devices[1]: nothing says which device; give address or local_name"),
        ("manufacturer = 0xffff\n", "", "19: devices[1].channels[0]: give either service_data or manufacturer"),
        ('"sint16"', '"int16"', '22: devices[1].channels[0].layout.format: "int16" is no format; give one of boolean'),
        (', unit = "Cel"', "", "22: devices[1].channels[0].layout: a number needs its unit"),
        ("load", "lod", '10: devices[0].channels[0].lod: unknown key; do you mean "load"?'),
    ],
)  # fmt: skip
def test_a_mistake_is_named_with_its_line(right: str, wrong: str, message: str) -> None:
    assert GOOD.count(right) == 1
    with pytest.raises(ConfigError) as caught:
        parse(GOOD.replace(right, wrong), Path("bay.toml"), {})
    assert caught.value.problems[0].startswith(f"bay.toml:{message}")


@pytest.mark.parametrize(
    "table", [BluetoothTable, BroadcastTable, BluetoothChannel, BroadcastChannel, LayoutTable, CalibrationTable]
)
def test_every_key_says_what_would_do(table: type[BaseModel]) -> None:
    silent = [name for name, field in table.model_fields.items() if not field.description and name != "driver"]
    assert silent == []
