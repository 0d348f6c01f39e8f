"""Declared layouts: every field is read where it was put, and what is not as declared is a fault."""

from __future__ import annotations

import math
import struct
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from fillmark_agent.edge.layout import LayoutTable
from fillmark_agent.edge.numbers import FORMATS
from fillmark_agent.edge.outcome import Fault, FaultKind, Measurement


def read(payload: bytes, **table: object) -> object:
    return LayoutTable.model_validate(table).layout().read(payload)


MESSAGE = struct.pack("<BHihB", 0xA1, 7, 12_140, -1234, 0b0100_0001)


@pytest.mark.parametrize(
    ("table", "value"),
    [
        ({"offset": 3, "format": "sint32", "scale": 0.0001, "unit": "kg"}, Measurement(1.214, "kg")),
        ({"offset": 7, "format": "sint16", "scale": 0.01, "unit": "Cel"}, Measurement(-12.34, "Cel")),
        ({"offset": 7, "format": "sint16", "scale": 0.01, "add": 10.0, "unit": "Cel"}, Measurement(-2.34, "Cel")),
        ({"offset": 9, "format": "uint8", "bit": 6}, Measurement(True, None)),
        ({"offset": 9, "format": "uint8", "bit": 1}, Measurement(False, None)),
        ({"offset": 1, "format": "uint16", "scale": 3, "unit": "psi", "endian": "big"}, Measurement(5376.0, "psi")),
    ],
)
def test_a_field_is_read_where_it_was_put(table: dict[str, Any], value: Measurement) -> None:
    found = read(MESSAGE, **table)
    assert isinstance(found, Measurement)
    assert found.value == pytest.approx(value.value, rel=1e-15)
    assert found.unit == value.unit


MASS = {"offset": 3, "format": "sint32", "scale": 0.0001, "unit": "kg"}


@pytest.mark.parametrize(
    ("payload", "more", "kind"),
    [
        (MESSAGE[:6], {}, FaultKind.TRUNCATED),
        (MESSAGE[:9], {"length": 10}, FaultKind.TRUNCATED),
        (MESSAGE + b"\0", {"length": 10}, FaultKind.OVERSIZED),
        (bytes(513), {}, FaultKind.OVERSIZED),
        (MESSAGE, {"unknown": 12_140}, FaultKind.UNKNOWN),
        (MESSAGE[:3] + b"\0\0\xc0\x7f", {"format": "float32"}, FaultKind.NOT_A_NUMBER),
        (MESSAGE[:3] + b"\xff\xff\x7f\x7f", {"format": "float32", "scale": 1e300}, FaultKind.NOT_A_NUMBER),
    ],
)
def test_what_is_not_as_declared_is_a_fault(payload: bytes, more: dict[str, Any], kind: FaultKind) -> None:
    found = read(payload, **(MASS | more))
    assert isinstance(found, Fault)
    assert found.kind is kind


def test_messages_of_another_kind_are_passed_over() -> None:
    assert read(MESSAGE, **MASS, starts_with="a2") is None
    assert isinstance(read(MESSAGE, **MASS, starts_with="a1 07"), Measurement)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"format": "int32"}, "is no format"), ({"unit": None}, "a number needs its unit"),
        ({"scale": 0}, "scale is 0"),
        ({"bit": 3}, "a flag has no unit"), ({"bit": 9, "unit": None, "format": "uint8"}, "that has so many bits"),
        ({"starts_with": "xy"}, "is no row of bytes"), ({"offset": -1}, "greater than or equal to 0"),
        ({"scale": math.nan}, "finite"),
    ],
)  # fmt: skip
def test_a_layout_without_meaning_is_refused(change: dict[str, Any], says: str) -> None:
    with pytest.raises(ValidationError, match=says):
        LayoutTable.model_validate(MASS | change)


@given(
    st.binary(max_size=64), st.integers(0, 40), st.sampled_from(sorted(set(FORMATS) - {"boolean"})),
    st.floats(allow_nan=False, allow_infinity=False).filter(bool), st.sampled_from(["kg", "psi"]),
)  # fmt: skip
def test_no_bytes_raise_and_no_value_is_without_its_unit(
    payload: bytes, offset: int, name: str, scale: float, unit: str
) -> None:
    found = read(payload, offset=offset, format=name, scale=scale, unit=unit)
    if isinstance(found, Measurement):
        assert (found.unit, math.isfinite(found.value)) == (unit, True)
    else:
        assert isinstance(found, Fault)
