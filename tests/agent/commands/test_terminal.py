"""`scan`, `bind` and `calibrate` as a person types them, over the simulated bay's instruments in memory."""

from __future__ import annotations

import argparse
import io
from collections.abc import Callable
from pathlib import Path

import pytest
from rich.console import Console

from fillmark_agent.__main__ import TERMINAL, main
from fillmark_agent.bluetooth.radio import NoCare, Radio
from fillmark_agent.bluetooth.table import BluetoothTable
from fillmark_agent.commands import calibrate
from fillmark_agent.config_file import load
from fillmark_agent.edge.calibration import CalibrationTable
from fillmark_sim.bluetooth import bay as on_air
from fillmark_sim.bluetooth.bay import BayOnAir

FINE_MASS, FINE_STABLE = "8d6f0002-5a4e-4c52-9f3b-0f2f6f1c7a10", "8d6f0003-5a4e-4c52-9f3b-0f2f6f1c7a10"
BOUGHT = """\
# Bench by the window.
[service]
url = "http://127.0.0.1:8000"   # the shop's

[[devices]]
driver = "bluetooth"
name = "scale"
local_name = "Bench Scale"
[[devices.channels]]
channel = "scale/mass"          # in tenths of a gram
characteristic = "8d6f0002-5a4e-4c52-9f3b-0f2f6f1c7a10"
"""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "bay.toml"


@pytest.fixture(autouse=True)
def wide(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "160")


def bound(path: Path) -> BluetoothTable:
    (table,) = load(path, {}).devices
    assert isinstance(table, BluetoothTable)
    return table


def test_scan_lists_what_is_near_and_what_it_offers(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["scan", "--simulated", "--seconds", "0.6"]) == 0
    rows = [line.split() for line in capsys.readouterr().out.splitlines()]
    assert ["F0:00:00:00:00:01", "Bench", "Scale", "-50", "dBm", "Weight", "Scale"] in rows
    assert ["F0:00:00:00:00:02", "Low", "Side", "-50", "dBm", "Environmental", "Sensing"] in rows
    assert ["D0:00:00:00:00:03", "Clamp", "vent", "-50", "dBm", "service_data", "181a:", "48", "08"] in rows


def test_bind_says_what_the_device_is_and_writes_its_finest_values(
    path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert (
        main(["bind", "f0:00:00:00:00:01", "--as", "scale", "--config", str(path), "--simulated", "--show", "1"]) == 0
    )
    said = capsys.readouterr().out
    assert "manufacturer: Invented Instruments" in said
    assert "battery: 87 %" in said
    assert "  2a9d: mass, steps of 0.005 kg; a profile of the Bluetooth SIG" in said
    assert f"* {FINE_MASS}: mass, steps of 0.0001 kg; describes itself" in said
    assert "does not describe itself; declare its layout" in said
    assert "  bay-1/scale/mass 2.0143 kg" in said
    table = bound(path)
    assert (table.name, table.address, table.local_name) == ("scale", "F0:00:00:00:00:01", "Bench Scale")
    channels = {channel.channel: channel.characteristic for channel in table.channels}
    assert channels == {"scale/mass": FINE_MASS, "scale/stable": FINE_STABLE}


def test_bind_leaves_the_rest_of_the_file_as_it_was(path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path.write_text(BOUGHT, encoding="utf-8")
    assert main(["bind", "Low Side", "--as", "low", "--config", str(path), "--simulated", "--show", "0.3"]) == 0
    assert path.read_text(encoding="utf-8").startswith(BOUGHT)
    scale, low = load(path, {}).devices
    assert isinstance(low, BluetoothTable)
    assert [channel.channel for channel in low.channels] == ["low/pressure", "low/temperature", "low/humidity"]
    assert scale.name == "scale"
    capsys.readouterr()


@pytest.mark.parametrize(
    ("device", "name", "says"),
    [
        ("Bench Scale", "scale", 'has a device "scale" already'),
        ("Bench Scale", "a b", '"a b" is no name'),
    ],
)
def test_bind_refuses_and_writes_nothing(
    path: Path, capsys: pytest.CaptureFixture[str], device: str, name: str, says: str
) -> None:
    path.write_text(BOUGHT, encoding="utf-8")
    assert main(["bind", device, "--as", name, "--config", str(path), "--simulated"]) == 1
    assert says in capsys.readouterr().err
    assert path.read_text(encoding="utf-8") == BOUGHT


def test_calibrate_moves_the_zero_and_keeps_the_comments(
    path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    path.write_text(BOUGHT, encoding="utf-8")
    monkeypatch.setattr("sys.stdin", io.StringIO("\n"))
    words = [
        "--at",
        "2.010 kg",
        "--uncertainty",
        "0.3 g",
        "--against",
        "weight no. 7",
        "--seconds",
        "1.2",
        "--simulated",
    ]
    assert main(["calibrate", "scale/mass", "--config", str(path), *words]) == 0
    out = capsys.readouterr().out
    assert "zero 0.0043, span 1, standard uncertainty 0.0003" in out
    assert "# in tenths of a gram" in path.read_text(encoding="utf-8")
    made = bound(path).channels[0].calibration
    assert made is not None
    assert made.corrected(2.0143) == pytest.approx(2.010)
    assert (made.uncertainty, made.reference) == (0.0003, "weight no. 7")


@pytest.mark.parametrize(
    ("channel", "at", "says"),
    [
        ("scale/masse", "1 kg", "no device feeds scale/masse; known: scale/mass"),
        ("scale/mass", "1 bar", "'bar' is no unit of mass"),
    ],
)
def test_calibrate_refuses_and_writes_nothing(
    path: Path, capsys: pytest.CaptureFixture[str], channel: str, at: str, says: str
) -> None:
    path.write_text(BOUGHT, encoding="utf-8")
    words = ["--at", at, "--uncertainty", "1 g", "--simulated"]
    assert main(["calibrate", channel, "--config", str(path), *words]) == 1
    assert says in capsys.readouterr().err
    assert path.read_text(encoding="utf-8") == BOUGHT


async def test_two_references_give_zero_and_span_of_the_raw_value(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    calibration = 'calibration = {zero = 0.5, date = 2026-01-01, uncertainty = 0.1}\nload = "net"\ntare = 1.0\n'
    path.write_text(BOUGHT + calibration, encoding="utf-8")  # noqa: ASYNC240 - a small file, before anything runs
    shown = iter((0.002, 2.004))
    air = BayOnAir()
    radio = Radio(air.adapter.scanner, air.adapter.client, NoCare(), begin=air.at_rest)

    def put_on(_: str) -> None:
        monkeypatch.setattr(on_air, "AT_REST", (("scale/mass", "kg", next(shown)),))

    made = await compare(path, ("1 kg", "3 kg"), radio, put_on)
    assert made.zero == pytest.approx(0.002)
    assert made.span == pytest.approx(2.0 / 2.002)
    assert bound(path).channels[0].calibration == made


async def compare(path: Path, at: tuple[str, ...], radio: Radio, ask: Callable[[str], object]) -> CalibrationTable:
    parser = argparse.ArgumentParser()
    calibrate.add(parser)
    words = [word for value in at for word in ("--at", value)]
    given = ["scale/mass", "--config", str(path), *words, "--uncertainty", "0.1 g", "--seconds", "0.8"]
    return await calibrate.compare(parser.parse_args(given), radio, Console(file=io.StringIO()), ask)


@pytest.mark.parametrize("command", TERMINAL)
def test_each_command_has_help_and_the_main_help_names_it(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as ended:
        main([command, "--help"])
    assert ended.value.code == 0
    assert TERMINAL[command].split(",")[0] in capsys.readouterr().out.replace("\n", " ")
    with pytest.raises(SystemExit):
        main(["--help"])
    assert command in capsys.readouterr().out
