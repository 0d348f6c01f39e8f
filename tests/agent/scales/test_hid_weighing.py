"""Reports of weighing devices: a mass with its unit and flag, or a fault that says why there is none."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from fillmark_agent.edge.outcome import Fault, FaultKind, Measurement
from fillmark_agent.scales.hid_layout import LayoutError
from fillmark_agent.scales.hid_weighing import STATUS, UNITS, hid_scale
from fillmark_agent.scales.indication import Indication

Describe = Callable[..., bytes]

# USB-IF, HID Point of Sale Usage Tables 1.02, section 4 "Weighing devices": numbers and names of the usages.
PUBLISHED_UNITS = {
    0x51: "milligrams", 0x52: "grams", 0x53: "kilograms", 0x54: "carats", 0x55: "taels", 0x56: "grains",
    0x57: "pennyweights", 0x58: "metric tons", 0x59: "avoirdupois tons", 0x5A: "troy ounces", 0x5B: "ounces",
    0x5C: "pounds",
}  # fmt: skip
PUBLISHED_STATUS = {
    0x71: FaultKind.DEVICE_FAULT,  # Fault
    0x72: None,  # Stable at Center of Zero
    0x73: None,  # In Motion
    0x74: None,  # Weight Stable
    0x75: FaultKind.UNDER_ZERO,  # Under Zero
    0x76: FaultKind.OVERLOAD,  # Over Weight Limit
    0x77: FaultKind.NEEDS_CARE,  # Requires Calibration
    0x78: FaultKind.NEEDS_CARE,  # Requires Re-zeroing
}
STABLE, IN_MOTION, AT_ZERO, UNDER_ZERO = 4, 3, 2, 5
SIGNED = "09 40 16 00 80 26 ff 7f 75 10 95 01 81 02"
STATUS_REPORT = "85 05 09 33 a1 02 19 71 29 78 15 01 25 08 75 08 95 01 81 00 c0"
ATTRIBUTES = "85 01 09 30 a1 02 19 22 29 2a 15 01 25 09 75 08 95 08 81 00 c0"


def seen(found: Indication | None) -> Measurement | FaultKind:
    assert found is not None
    return found.mass.kind if isinstance(found.mass, Fault) else found.mass


def test_the_tables_are_the_published_ones() -> None:
    assert {usage: name for usage, (name, _) in UNITS.items()} == PUBLISHED_UNITS
    assert {usage: None if fault is None else fault.kind for usage, fault in STATUS.items()} == PUBLISHED_STATUS


def test_worked_examples_of_postal_scales(describe: Describe) -> None:
    """Reports that owners of postal scales have published: 20 g, and 40 lb 5.2 oz as 645.2 oz."""
    scale = hid_scale(describe())
    assert scale.decode(bytes.fromhex("03 04 02 00 14 00")) == Indication(Measurement(20.0, "g"), stable=True)
    assert scale.decode(bytes.fromhex("03 04 0b ff 34 19")) == Indication(Measurement(645.2, "oz"), stable=True)


@pytest.mark.parametrize(("status", "stable"), [(AT_ZERO, True), (IN_MOTION, False), (STABLE, True)])
def test_the_flag_comes_with_the_mass(describe: Describe, status: int, stable: bool) -> None:
    found = hid_scale(describe()).decode(bytes((3, status, 3, 0xFD, 0xBE, 0x04)))
    assert found == Indication(Measurement(1.214, "kg"), stable)


def test_every_status_is_a_mass_or_its_fault(describe: Describe) -> None:
    scale = hid_scale(describe())
    for value in range(256):
        kind = PUBLISHED_STATUS.get(0x70 + value, FaultKind.RESERVED)
        expected = Measurement(20.0, "g") if kind is None else kind
        assert seen(scale.decode(bytes((3, value, 2, 0, 0x14, 0)))) == expected


def test_every_unit_is_known_or_refused(describe: Describe) -> None:
    scale = hid_scale(describe())
    for value in range(256):
        sign = {1: "mg", 2: "g", 3: "kg", 8: "t", 11: "oz", 12: "lb"}.get(value)
        expected = FaultKind.IMPOSSIBLE_UNIT if sign is None else Measurement(20.0, sign)
        assert seen(scale.decode(bytes((3, STABLE, value, 0, 0x14, 0)))) == expected


def test_below_zero_is_a_mass_only_where_the_scale_can_say_minus(describe: Describe) -> None:
    report = bytes((3, UNDER_ZERO, 2, 0, 0xFE, 0xFF))
    assert seen(hid_scale(describe()).decode(report)) is FaultKind.UNDER_ZERO
    signed = hid_scale(describe(weight=SIGNED)).decode(report)
    assert signed == Indication(Measurement(-2.0, "g"), stable=None)
    assert seen(hid_scale(describe(weight=SIGNED)).decode(bytes((3, UNDER_ZERO, 2, 0, 5, 0)))) is FaultKind.UNDER_ZERO


@pytest.mark.parametrize(
    ("report", "kind"),
    [
        ("", FaultKind.TRUNCATED),
        ("03 04 02 00 14", FaultKind.TRUNCATED),
        ("03 04 02 00 14 00 01", FaultKind.OVERSIZED),
        ("03 04 02 00 14 00 00", FaultKind.OVERSIZED),
        ("07 04 02 00 14 00", FaultKind.UNREADABLE),
    ],
)
def test_what_is_no_report_is_a_fault(describe: Describe, report: str, kind: FaultKind) -> None:
    assert seen(hid_scale(describe()).decode(bytes.fromhex(report))) is kind


def test_a_weight_outside_its_declared_range_is_no_number(describe: Describe) -> None:
    """HID 1.11, section 6.2.2.5: a value outside the logical range means nothing."""
    scale = hid_scale(describe(weight="09 40 15 00 26 ff 0f 75 10 95 01 81 02"))
    assert seen(scale.decode(bytes.fromhex("03 04 02 00 ff 0f"))) == Measurement(4095.0, "g")
    assert seen(scale.decode(bytes.fromhex("03 04 02 00 00 10"))) is FaultKind.NOT_A_NUMBER


def test_a_scaling_beyond_reason_is_no_number(describe: Describe) -> None:
    wide = hid_scale(describe(scaling="09 41 17 00 00 00 80 27 ff ff ff 7f 75 20 95 01 81 02"))
    assert seen(wide.decode(bytes.fromhex("03 04 02 ff ff ff 7f 14 00"))) is FaultKind.NOT_A_NUMBER


def test_a_maximum_written_too_short_is_no_limit(describe: Describe) -> None:
    """0xFFFF in two bytes is −1 (HID 1.11, section 6.2.2.7), and devices write it so."""
    scale = hid_scale(describe(weight="09 40 15 00 26 ff ff 75 10 95 01 81 02"))
    assert seen(scale.decode(bytes.fromhex("03 04 02 00 50 c3"))) == Measurement(50000.0, "g")


def test_status_as_single_bits_is_read_too(describe: Describe) -> None:
    scale = hid_scale(describe(status="19 71 29 78 15 00 25 01 75 01 95 08 81 02"))
    assert scale.decode(bytes((3, 0b0000_1000, 2, 0, 20, 0))) == Indication(Measurement(20.0, "g"), stable=True)
    assert seen(scale.decode(bytes((3, 0b0010_1000, 2, 0, 20, 0)))) is FaultKind.OVERLOAD
    assert seen(scale.decode(bytes((3, 0, 2, 0, 20, 0)))) is FaultKind.RESERVED


def test_a_scale_without_status_has_no_flag_and_one_without_unit_no_mass(describe: Describe) -> None:
    assert hid_scale(describe(status="")).decode(bytes((3, 2, 0, 20, 0))) == Indication(Measurement(20.0, "g"))
    assert seen(hid_scale(describe(unit="")).decode(bytes((3, STABLE, 0, 20, 0)))) is FaultKind.IMPOSSIBLE_UNIT


def test_reports_about_something_else(describe: Describe) -> None:
    scale = hid_scale(describe(more=f"{STATUS_REPORT} {ATTRIBUTES}"))
    assert scale.decode(bytes((5, STABLE))) is None
    assert seen(scale.decode(bytes((5, 6)))) is FaultKind.OVERLOAD
    assert scale.decode(bytes((1, 1, 2, 3))) is None
    padded = bytes((3, STABLE, 2, 0, 20, 0, 0, 0, 0))
    assert seen(scale.decode(padded)) == Measurement(20.0, "g")
    assert seen(scale.decode(padded[:-1] + b"\x01")) is FaultKind.OVERSIZED


def test_a_device_without_a_weight_is_refused(describe: Describe) -> None:
    with pytest.raises(LayoutError, match="0x40"):
        hid_scale(describe(weight=""))


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=12), st.sampled_from(["plain", "bits", "no unit"]))
@example(b"\x03\x04\x02\x00\xff\xff", "plain")
def test_no_exception_and_no_mass_without_a_unit(report: bytes, kind: str) -> None:
    item = bytes.fromhex
    status = item("19712978150125087508950181 00".replace(" ", ""))
    bits = item("197129781500250175019508 8102".replace(" ", ""))
    unit = item("1951295c1501250c750895018100")
    rest = item("0941158125 7f750895018102 0940150027ffff000075109501 8102".replace(" ", ""))
    parts = {"plain": status + unit, "bits": bits + unit, "no unit": status}
    found = hid_scale(item("058d8503") + parts[kind] + rest).decode(report)
    if found is not None and isinstance(found.mass, Measurement):
        assert kind != "no unit"
        assert found.mass.unit in {"mg", "g", "kg", "t", "oz", "lb"}


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=120), st.binary(max_size=64))
def test_any_descriptor_with_any_report(descriptor: bytes, report: bytes) -> None:
    weight = bytes.fromhex("058d0940150027ffff0000751095018102")
    try:
        scale = hid_scale(descriptor + weight)
    except LayoutError:
        return
    found = scale.decode(report)
    assert found is None or not isinstance(found.mass, Measurement) or found.mass.unit is not None
