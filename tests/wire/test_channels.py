"""Units of the IANA SenML registry and what a sensor can possibly say."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.wire import channels
from fillmark.wire.channels import QUANTITIES, Channel
from fillmark.wire.senml import Record, SenmlError


def reading(local: str, value: float, unit: str | None) -> Record:
    return Record(f"bay-1/{local}", 1.79e9, unit=unit, value=value)


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("bay-1/scale/mass", Channel("bay-1", "scale", "mass")),
        ("bay-1/action", Channel("bay-1", "", "action")),
        ("bay-1/rear/low/pressure", Channel("bay-1", "rear/low", "pressure")),
    ],
)
def test_a_name_comes_apart_and_together_again(name: str, expected: Channel) -> None:
    channel = channels.parse(name)
    assert channel == expected
    assert f"{channel.bay}/{channel.local}" == name


@pytest.mark.parametrize("name", ["bay-1", "bay-1/", "/scale/mass", "bay-1/scale/", "bay-1//mass", ""])
def test_a_name_without_all_its_parts_is_refused_at_its_place(name: str) -> None:
    with pytest.raises(SenmlError) as caught:
        channels.parse(name, "/7")
    assert caught.value.field == "/7/n"
    assert "bay/device/quantity" in caught.value.accepted


# SI prefixes: gram and hectopascal; degree Celsius: t = T - 273.15 K (NIST SP 811 (2008) section 4.2.1.1).
@pytest.mark.parametrize(
    ("local", "value", "unit", "inside", "inside_unit"),
    [
        ("scale/mass", 0.34, "kg", 0.34, "kg"),
        ("scale/mass", 340.0, "g", 0.34, "kg"),
        ("low/pressure", 1013.25, "hPa", 101325.0, "Pa"),
        ("low/pressure", 101325.0, "Pa", 101325.0, "Pa"),
        ("vent/temperature", 273.15, "K", 0.0, "Cel"),
        ("vent/temperature", -40.0, "Cel", -40.0, "Cel"),
        ("ambient/humidity", 55.0, "%RH", 55.0, "%RH"),
    ],
)
def test_units_are_converted_once(local: str, value: float, unit: str, inside: float, inside_unit: str) -> None:
    record = channels.normalise(reading(local, value, unit))
    assert record.value == pytest.approx(inside, rel=1e-12, abs=1e-12)
    assert record.unit == inside_unit
    assert channels.normalise(record) == record


@pytest.mark.parametrize("name", [name for name, kind in QUANTITIES.items() if kind.unit is not None])
def test_the_bounds_belong_to_the_range_and_beyond_is_refused(name: str) -> None:
    kind = QUANTITIES[name]
    for value in (kind.least, kind.most):
        assert channels.normalise(reading(f"x/{name}", value, kind.unit)).value == value
    for value in (kind.least - 1.0, kind.most + 1.0):
        with pytest.raises(SenmlError) as caught:
            channels.normalise(reading(f"x/{name}", value, kind.unit), "/3")
        assert caught.value.field == "/3/v"
        assert f"{kind.most:g}" in caught.value.accepted


@pytest.mark.parametrize("name", [name for name, kind in QUANTITIES.items() if kind.unit is not None])
@pytest.mark.parametrize("unit", [None, "", "m", "KG", "pa", "C", "psi"])
def test_a_unit_of_another_kind_or_none_is_refused_with_those_that_would_do(name: str, unit: str | None) -> None:
    kind = QUANTITIES[name]
    with pytest.raises(SenmlError) as caught:
        channels.normalise(reading(f"x/{name}", 1.0, unit), "/0")
    assert caught.value.field == "/0/u"
    assert all(str(known) in caught.value.accepted for known in (kind.unit, *kind.factors))


def test_a_quantity_without_a_number_is_refused() -> None:
    for record in (Record("b/scale/mass", 1.79e9, flag=True), Record("b/scale/mass", 1.79e9, unit="kg", sum=4.0)):
        with pytest.raises(SenmlError) as caught:
            channels.normalise(record, "/2")
        assert caught.value.field == "/2/v"


def test_a_flag_passes_and_a_number_is_no_flag() -> None:
    flag = Record("b/scale/stable", 1.79e9, flag=False)
    assert channels.normalise(flag) == flag
    with pytest.raises(SenmlError) as caught:
        channels.normalise(Record("b/scale/stable", 1.79e9, value=1.0), "/0")
    assert caught.value.field == "/0/vb"


@given(st.floats(allow_nan=False, allow_infinity=False), st.text(max_size=5))
def test_what_is_not_known_passes_unchanged(value: float, unit: str) -> None:
    record = reading("tyre/wear", value, unit)
    assert channels.normalise(record) is record


def test_an_action_passes_unchanged() -> None:
    record = Record("bay-1/action", 1.79e9, text="{}")
    assert channels.normalise(record) is record
