"""A scale that writes lines: behind a pseudo terminal and behind a TCP port, with real bytes on both."""

from __future__ import annotations

import asyncio
from typing import Any

import pytest

from fillmark.wire import extras
from fillmark.wire.clock import Clock
from fillmark.wire.senml import Record
from fillmark_agent.device import DeviceNotFoundError, LinkLostError
from fillmark_agent.drivers.line_scale import LineScaleDevice
from fillmark_agent.scales.tables import LineScaleTable

Fake = Any
"""What a fixture made: its class is in conftest.py, which is not imported."""

PATTERN = r"(?P<stable>ST|US),(?P<sign>[+-])(?P<value>[ 0-9]{3}\.[0-9]{3}) ?(?P<unit>kg|g|lb)"


def device(port: str, clock: Clock, **keys: object) -> LineScaleDevice:
    given = {"pattern": PATTERN, "stable": ["ST"], "overload": "OL", **keys}
    return LineScaleDevice(
        LineScaleTable.model_validate({"driver": "line-scale", "name": "bench", "port": port, **given}), clock
    )


def told(records: list[Record]) -> list[tuple[str, object]]:
    return [(r.name.removeprefix("bay-1/scale/"), r.value if r.text is None and r.flag is None else
             r.text.partition(":")[0] if r.text else r.flag) for r in records]  # fmt: skip


async def test_lines_become_masses_flags_and_faults(far_end: Fake, clock: Clock) -> None:
    made = device(far_end.name, clock)
    await made.connect()
    await asyncio.to_thread(far_end.write, b".214kg\r\nST,+  1.214kg\r\nUS,+  1.2")
    await asyncio.to_thread(far_end.write, b"10kg\r\nOL\r\nOL\r\n\xff\xfe\r\nST,+  2.676lb\r\nST,-  0.002kg\r\n")
    async with asyncio.timeout(10.0):
        found: list[Record] = []
        async for pack in made.samples():
            found += pack
            if len(found) >= 10:
                break
    await made.disconnect()
    assert told(found) == [
        ("mass", 1.214), ("stable", True), ("mass", 1.21), ("stable", False), ("mass/fault", "overload"),
        ("mass/fault", "unreadable"), ("mass/fault", "unit-changed"), ("mass", -0.002), ("mass/fault", "none"),
        ("stable", True),
    ]  # fmt: skip


async def test_a_scale_that_speaks_when_asked(far_end: Fake, clock: Clock) -> None:
    made = device(far_end.name, clock, poll="W\r\n", poll_s=0.05)
    await made.connect()
    answers = asyncio.create_task(asyncio.to_thread(answer, far_end, 3))
    found: list[Record] = []
    async with asyncio.timeout(10.0):
        async for pack in made.samples():
            found += pack
            if len(found) >= 4:
                break
    await answers
    await made.disconnect()
    assert told(found) == [("mass", 1.001), ("stable", True), ("mass", 1.002), ("stable", True)]


def answer(far_end: Fake, times: int) -> None:
    for number in range(times):
        asked = far_end.read()
        assert asked.startswith(b"W\r\n")
        far_end.write(b"\r\nST,+  1.%03dkg\r\n" % number if number else b"half a line\r\n")


async def test_a_line_that_breaks_is_a_loss(far_end: Fake, clock: Clock) -> None:
    made = device(far_end.name, clock)
    await made.connect()
    await asyncio.to_thread(far_end.write, b"\r\nST,+  1.214kg\r\n")
    stream = made.samples()
    async with asyncio.timeout(10.0):
        assert await anext(stream)
        await asyncio.to_thread(far_end.pull)
        with pytest.raises(LinkLostError, match="gone"):
            await anext(stream)
    await made.disconnect()
    await made.disconnect()
    with pytest.raises(DeviceNotFoundError, match="cannot be opened"):
        await made.connect()


async def test_a_port_that_another_program_has_is_named(terminal: Fake, clock: Clock) -> None:
    first, second = device(terminal.name, clock), device(terminal.name, clock)
    await first.connect()
    with pytest.raises(DeviceNotFoundError, match="cannot be opened"):
        await second.connect()
    await first.disconnect()
    await second.connect()
    await second.disconnect()


async def test_what_comes_after_a_reconnection_begins_with_a_whole_line(terminal: Fake, clock: Clock) -> None:
    made = device(terminal.name, clock)
    for rest in (b"\r\n", b"9.000kg\r\n"):
        await made.connect()
        terminal.write(rest + b"ST,+  1.214kg\r\nST,+")
        async with asyncio.timeout(10.0):
            pack = await anext(made.samples())
        assert told(list(pack)) == [("mass", 1.214), ("stable", True)]
        await made.disconnect()


def test_without_the_package_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch, clock: Clock) -> None:
    monkeypatch.setattr(extras, "PACKAGES", {"serial": ("fillmark_no_such_module", "pyserial")})
    with pytest.raises(ImportError, match=r"pip install 'fillmark\[serial\]'"):
        device("/dev/ttyUSB0", clock)
