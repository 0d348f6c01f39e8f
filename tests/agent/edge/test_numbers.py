"""Formats against the SIG's own list and IEEE 11073's special values; no bytes raise."""

from __future__ import annotations

import math
import struct
from importlib.resources import files
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from fillmark_agent.edge.numbers import FORMATS, Endian, read_number, to_power
from fillmark_agent.edge.outcome import Fault, FaultKind

LIST = files("bluetooth_sig") / "bluetooth_sig" / "assigned_numbers" / "core" / "formattypes.yaml"
NO_NUMBERS = {"uint16[2]", "utf8s", "utf16s", "struct", "medASN1"}


@pytest.fixture(scope="module")
def assigned() -> dict[str, dict[str, Any]]:
    """The formats as the Bluetooth SIG's Assigned Numbers list them."""
    rows = yaml.safe_load(LIST.read_text(encoding="utf-8"))["formattypes"]
    return {row["short_name"]: row for row in rows}


def test_the_table_is_the_sigs_own(assigned: dict[str, dict[str, Any]]) -> None:
    ours = {name: (form.code, form.size, form.scales) for name, form in FORMATS.items()}
    theirs = {name: (row["value"], row.get("size"), row["exponent"]) for name, row in assigned.items()}
    assert ours.keys() == theirs.keys() - NO_NUMBERS
    assert {name: value for name, value in theirs.items() if name in ours and value != ours[name]} == {}


@pytest.mark.parametrize(
    ("name", "sign"),
    [("uint8", "B"), ("sint8", "b"), ("uint16", "H"), ("sint16", "h"), ("uint32", "I"), ("sint32", "i"),
     ("uint64", "Q"), ("sint64", "q"), ("float32", "f"), ("float64", "d")],
)  # fmt: skip
@pytest.mark.parametrize(("endian", "order"), [("little", "<"), ("big", ">")])
@given(data=st.data())
def test_the_standard_librarys_packing_is_read_back(
    name: str, sign: str, endian: Endian, order: str, data: st.DataObject
) -> None:
    payload = data.draw(st.binary(min_size=FORMATS[name].size, max_size=FORMATS[name].size))
    (expected,) = struct.unpack(order + sign, payload)
    read = read_number(payload, name, endian)
    if math.isfinite(expected):
        assert read == expected
    else:
        assert isinstance(read, Fault)
        assert read.kind is FaultKind.NOT_A_NUMBER


@pytest.mark.parametrize(
    ("payload", "name", "value"),
    [
        # IEEE 11073-20601, annex F.7 (from memory): 16 bits are 4 of exponent and 12 of mantissa.
        ("72f1", "medfloat16", 37.0), ("a0f0", "medfloat16", 16.0), ("0010", "medfloat16", 0.0),
        ("6c0100ff", "medfloat32", 36.4), ("feffffff", "medfloat32", -0.2), ("01000005", "medfloat32", 100000.0),
        ("ff0f", "uint12", 4095), ("ff0f", "sint12", -1), ("ffff", "sint12", -1), ("0008", "sint12", -2048),
        ("ffffff", "sint24", -1), ("01", "boolean", True), ("00", "boolean", False), ("03", "uint2", 3),
    ],
)  # fmt: skip
def test_a_known_number(payload: str, name: str, value: float) -> None:
    assert read_number(bytes.fromhex(payload), name) == pytest.approx(value, rel=1e-15)


@pytest.mark.parametrize("special", ["ff07", "0008", "fe07", "0208", "0108"])
def test_the_special_values_of_medical_floats_are_no_numbers(special: str) -> None:
    read = read_number(bytes.fromhex(special), "medfloat16")
    assert isinstance(read, Fault)
    assert read.kind is FaultKind.NOT_A_NUMBER


@pytest.mark.parametrize(
    ("payload", "name"), [("02", "boolean"), ("04", "uint2"), ("10", "uint4"), ("0010", "uint12"), ("0070", "sint12")]
)
def test_bits_above_the_number_are_refused(payload: str, name: str) -> None:
    read = read_number(bytes.fromhex(payload), name)
    assert isinstance(read, Fault)
    assert read.kind is FaultKind.RESERVED


@given(st.binary(max_size=20), st.sampled_from(sorted(FORMATS)), st.sampled_from(["little", "big"]))
def test_no_bytes_raise_and_every_number_is_finite(payload: bytes, name: str, endian: Endian) -> None:
    read = read_number(payload, name, endian)
    if isinstance(read, Fault):
        assert read.text
    else:
        assert len(payload) == FORMATS[name].size
        assert math.isfinite(read)


def test_a_whole_number_times_a_power_is_the_decimal_that_was_meant() -> None:
    assert to_power(1214, -3) == 1.214
    assert to_power(3, 2) == 300.0
    assert to_power(-5, 0) == -5.0
