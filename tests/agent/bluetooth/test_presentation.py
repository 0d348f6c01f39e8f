"""Presentation formats: units against the SIG's list, round trips, and no bytes raise."""

from __future__ import annotations

import math
import struct
from importlib.resources import files

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from fillmark_agent.bluetooth.presentation import UNITS, Presentation, parse
from fillmark_agent.edge.outcome import Fault, FaultKind, Measurement
from fillmark_agent.edge.units import to_inside

LIST = files("bluetooth_sig") / "bluetooth_sig" / "assigned_numbers" / "uuids" / "units.yaml"
WORDS = {
    "kg": "mass.kilogram", "t": "mass.tonne", "lb": "mass.pound", "Pa": "pressure.pascal", "bar": "pressure.bar",
    "mmHg": "pressure.millimetre_of_mercury", "psi": "pressure.pound_force_per_square_inch",
    "Cel": "thermodynamic_temperature.degree_celsius", "K": "thermodynamic_temperature.kelvin",
    "degF": "thermodynamic_temperature.degree_fahrenheit", "%": "percentage",
}  # fmt: skip


def described(form: int, exponent: int, unit: int) -> bytes:
    return struct.pack("<BbHBH", form, exponent, unit, 1, 0)


def test_the_units_are_the_sigs_own_and_fit_their_quantity() -> None:
    rows = yaml.safe_load(LIST.read_text(encoding="utf-8"))["uuids"]
    assigned = {row["uuid"]: row["id"].removeprefix("org.bluetooth.unit.") for row in rows}
    assert {number: WORDS[unit] for number, (unit, _) in UNITS.items()} == {
        number: assigned[number] for number in UNITS
    }
    for unit, quantity in UNITS.values():
        assert to_inside(unit, quantity).factor > 0.0


def test_a_scale_that_describes_itself_gives_grams() -> None:
    found = parse(described(0x10, -3, 0x2702))
    assert found == Presentation("sint32", -3, "kg", "mass")
    assert found.step == 0.001
    assert found.read(struct.pack("<i", 10_003)) == Measurement(10.003, "kg")


def test_exponents_are_for_whole_numbers_only() -> None:
    found = parse(described(0x14, -3, 0x272F))
    assert isinstance(found, Presentation)
    assert found.step is None
    assert found.read(struct.pack("<f", 21.5)) == Measurement(21.5, "Cel")


def test_a_flag_has_no_unit() -> None:
    found = parse(described(0x01, 0, 0x2700))
    assert isinstance(found, Presentation)
    assert (found.quantity, found.read(b"\1"), found.read(b"\0")) == (
        "stable", Measurement(True, None), Measurement(False, None),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("descriptor", "kind"),
    [
        (described(0x10, -3, 0x2702)[:6], FaultKind.TRUNCATED),
        (described(0x10, -3, 0x2702) + b"\0", FaultKind.OVERSIZED),
        (described(0x19, 0, 0x2702), FaultKind.UNREADABLE), (described(0x00, 0, 0x2702), FaultKind.UNREADABLE),
        (described(0x10, -3, 0x2703), FaultKind.IMPOSSIBLE_UNIT),
        (described(0x10, -3, 0x2700), FaultKind.IMPOSSIBLE_UNIT),
        (described(0x01, 0, 0x2702), FaultKind.IMPOSSIBLE_UNIT),
    ],
)  # fmt: skip
def test_what_describes_no_reading_is_refused(descriptor: bytes, kind: FaultKind) -> None:
    found = parse(descriptor)
    assert isinstance(found, Fault)
    assert found.kind is kind


@given(st.binary(min_size=5, max_size=9), st.binary(max_size=20))
def test_no_bytes_raise_and_no_value_is_without_its_unit(descriptor: bytes, payload: bytes) -> None:
    found = parse(descriptor)
    if isinstance(found, Fault):
        return
    value = found.read(payload)
    if isinstance(value, Measurement):
        assert math.isfinite(value.value)
        assert (value.unit is None) == isinstance(value.value, bool)


@given(
    st.sampled_from([(0x0E, "<h"), (0x08, "<I"), (0x12, "<q"), (0x14, "<f"), (0x15, "<d")]),
    st.integers(-128, 127), st.sampled_from(sorted(UNITS)), st.data(),
)  # fmt: skip
def test_every_good_description_is_read(form: tuple[int, str], exponent: int, unit: int, data: st.DataObject) -> None:
    code, sign = form
    payload = data.draw(st.binary(min_size=struct.calcsize(sign), max_size=struct.calcsize(sign)))
    found = parse(described(code, exponent, unit))
    assert isinstance(found, Presentation)
    (number,) = struct.unpack(sign, payload)
    value = found.read(payload)
    if not math.isfinite(number):
        assert isinstance(value, Fault)
    else:
        power = exponent if code < 0x14 else 0
        assert isinstance(value, Measurement)
        assert value.value == pytest.approx(number * 10.0**power, rel=1e-12)
        assert value.unit == UNITS[unit][0]
