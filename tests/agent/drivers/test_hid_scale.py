"""A USB scale through the functions of hidapi: found, read, lost, found again."""

from __future__ import annotations

import asyncio
import threading
from types import ModuleType
from typing import Any

import hid as real_hid
import pytest

from fillmark.wire import extras
from fillmark.wire.clock import Clock
from fillmark.wire.senml import Record
from fillmark_agent.device import DeviceBrokenError, DeviceNotFoundError, LinkLostError
from fillmark_agent.drivers.hid_scale import HidScaleDevice
from fillmark_agent.scales.tables import HidScaleTable

Fake = Any
"""What a fixture made: its class is in conftest.py, which is not imported."""

STABLE_GRAMS = bytes.fromhex("03 04 02 00 14 00")
MOVING_GRAMS = bytes.fromhex("03 03 02 00 15 00")
OVERLOAD = bytes.fromhex("03 06 02 00 00 00")
OUNCES = bytes.fromhex("03 04 0b ff 34 19")


def device(hid: ModuleType, clock: Clock, **keys: object) -> HidScaleDevice:
    table = HidScaleTable.model_validate({"driver": "hid-scale", "name": "bench", **keys})
    return HidScaleDevice(table, clock, hid=hid)


def told(records: list[Record]) -> list[tuple[str, object]]:
    return [(r.name.removeprefix("bay-1/scale/"), r.value if r.text is None and r.flag is None else
             r.text.partition(":")[0] if r.text else r.flag) for r in records]  # fmt: skip


async def test_masses_flags_and_faults_in_order(hid: Fake, scale: Fake, clock: Clock, collect: Fake) -> None:
    for report in (STABLE_GRAMS, MOVING_GRAMS, OVERLOAD, OVERLOAD, b"\x03\x04", OUNCES, STABLE_GRAMS):
        scale.reports.put(report)
    before_s = clock.now_s()
    found = await collect(device(hid, clock), 10)
    assert told(found) == [
        ("mass", 0.02), ("stable", True), ("mass", 0.021), ("stable", False), ("mass/fault", "overload"),
        ("mass/fault", "truncated"), ("mass/fault", "unit-changed"), ("mass", 0.02), ("mass/fault", "none"),
        ("stable", True),
    ]  # fmt: skip
    assert all(before_s <= record.time_s <= clock.now_s() + 1e-3 for record in found)


async def test_a_pulled_plug_is_a_loss_and_the_next_connection_works(hid: Fake, scale: Fake, clock: Clock) -> None:
    made = device(hid, clock)
    await made.find()
    await made.connect()
    scale.pull()
    with pytest.raises(LinkLostError, match="gone"):
        await asyncio.wait_for(anext(made.samples()), 10.0)
    await made.disconnect()
    with pytest.raises(DeviceNotFoundError, match="plug it in"):
        await made.find()
    scale.plugged = True
    await made.find()
    await made.connect()
    scale.reports.put(STABLE_GRAMS)
    async with asyncio.timeout(10.0):
        pack = await anext(made.samples())
    assert told(list(pack)) == [("mass", 0.02), ("stable", True)]
    await made.disconnect()
    await made.disconnect()
    assert scale.opened == 0


async def test_only_one_thread_reads_and_it_is_not_the_loops(
    hid: Fake, scale: Fake, clock: Clock, collect: Fake
) -> None:
    scale.reports.put(STABLE_GRAMS)
    await collect(device(hid, clock), 1)
    assert len(scale.readers) == 1
    assert scale.readers.isdisjoint({threading.get_ident()})


async def test_connecting_again_lets_the_first_link_go(hid: Fake, scale: Fake, clock: Clock) -> None:
    made = device(hid, clock)
    await made.find()
    await made.connect()
    await made.connect()
    assert scale.opened == 1
    await made.disconnect()


async def test_two_scales_need_a_choice(hid: Fake, scale: Fake, clock: Clock) -> None:
    other = type(scale)(path=b"/dev/hidraw4", serial="B2")
    hid.scales.append(other)
    with pytest.raises(DeviceNotFoundError, match=r'2 scales.*serial = "A1".*serial = "B2"'):
        await device(hid, clock).find()
    await device(hid, clock, serial="B2").find()
    with pytest.raises(DeviceNotFoundError, match="plug it in"):
        await device(hid, clock, vendor_id=0x1234).find()


async def test_a_device_of_another_kind_is_not_a_scale(hid: Fake, scale: Fake, clock: Clock) -> None:
    scale.usage_page = 0x01
    with pytest.raises(DeviceNotFoundError):
        await device(hid, clock).find()


async def test_a_scale_that_somebody_else_has_is_named(hid: Fake, scale: Fake, clock: Clock) -> None:
    made = device(hid, clock)
    await made.find()
    scale.opened = 1
    with pytest.raises(DeviceNotFoundError, match="hidraw"):
        await made.connect()


async def test_a_descriptor_without_a_weight_cannot_be_helped(hid: Fake, scale: Fake, clock: Clock) -> None:
    scale.descriptor = bytes.fromhex("058d0901a101c0")
    made = device(hid, clock)
    await made.find()
    with pytest.raises(DeviceBrokenError, match="0x40"):
        await made.connect()
    assert scale.opened == 0


def test_the_real_package_has_what_is_used() -> None:
    assert isinstance(real_hid.enumerate(), list)
    for name in ("open_path", "get_report_descriptor", "read", "close"):
        assert callable(getattr(real_hid.device(), name))


def test_without_the_package_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch, clock: Clock) -> None:
    monkeypatch.setattr(extras, "PACKAGES", {"hid": ("fillmark_no_such_module", "hidapi")})
    with pytest.raises(ImportError, match=r"pip install 'fillmark\[hid\]'"):
        HidScaleDevice(HidScaleTable(driver="hid-scale", name="bench"), clock)


def test_another_package_of_the_same_name_is_noticed(clock: Clock) -> None:
    with pytest.raises(ImportError, match="another package"):
        HidScaleDevice(HidScaleTable(driver="hid-scale", name="bench"), clock, hid=ModuleType("hid"))
