"""Every driver that a configuration can name is built from its table, or says what to install."""

from __future__ import annotations

from pathlib import Path

import pytest

from fillmark.wire import extras
from fillmark.wire.clock import Clock
from fillmark_agent import __main__ as command
from fillmark_agent.config_file import ConfigError, parse
from fillmark_agent.drivers.build import build_devices
from fillmark_agent.drivers.hid_scale import HidScaleDevice
from fillmark_agent.drivers.line_scale import LineScaleDevice

LINES = """\
[[devices]]
driver = "line-scale"
name = "bench"
port = "socket://192.0.2.7:4001"
pattern = '(?P<value>[0-9.]+)(?P<unit>kg|g)'
[devices.mass]
channel = "bench/mass"
load = "net"
tare = "1.2 kg"
"""
USB = '[[devices]]\ndriver = "hid-scale"\nname = "usb"\nbay = "bay-2"\ninterval_s = 0.1\n'


def test_wired_scales_are_built_from_their_tables(clock: Clock) -> None:
    line, usb = build_devices(parse(LINES + USB, Path("bay.toml"), {}), clock)
    assert isinstance(line, LineScaleDevice)
    assert isinstance(usb, HidScaleDevice)
    assert (line.info.channels, line.info.expected_interval_s) == (("bay-1/bench/mass", "bay-1/bench/stable"), 1.0)
    assert (usb.info.channels, usb.info.expected_interval_s) == (("bay-2/scale/mass", "bay-2/scale/stable"), 0.1)


@pytest.mark.parametrize(
    ("old", "new", "line", "problem"),
    [
        ("(?P<unit>kg|g)", "", 1, 'no unit: give the pattern a group (?P<unit>…), or set unit = "g"'),
        ("(?P<value>", "(?P<value", 5, "this is no regular expression"),
        ("socket:", "http:", 4, "is no port"),
        ('channel = "bench/mass"\nload = "net"\ntare = "1.2 kg"', 'channel = "low/pressure"', 6, "is no mass"),
    ],
)
def test_a_mistake_is_named_with_its_line(old: str, new: str, line: int, problem: str) -> None:
    assert LINES.count(old) == 1
    with pytest.raises(ConfigError) as caught:
        parse(LINES.replace(old, new), Path("bay.toml"), {})
    assert caught.value.problems[0].startswith(f"bay.toml:{line}: ")
    assert problem in caught.value.problems[0]


def test_a_package_that_is_missing_ends_the_command_in_one_line(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(extras, "PACKAGES", {"hid": ("fillmark_no_such_module", "hidapi")})
    (tmp_path / "bay.toml").write_text(USB, encoding="utf-8")
    assert command.main(["--config", str(tmp_path / "bay.toml")]) == 2
    said = capsys.readouterr().err.splitlines()
    assert said[-1].startswith(f"{tmp_path / 'bay.toml'}: hidapi is missing")
    assert said[-1].endswith("install it with: pip install 'fillmark[hid]'")
