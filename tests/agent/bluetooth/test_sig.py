"""SIG decoders against the GATT Specification Supplement and against other people's decoders; no bytes raise."""

from __future__ import annotations

import math
import struct
from collections.abc import Callable
from importlib.resources import files
from typing import Any

import bleak.uuids
import pytest
import yaml
from bluetooth_sig.core import BluetoothSIGTranslator
from hypothesis import given
from hypothesis import strategies as st

from fillmark_agent.bluetooth import sig
from fillmark_agent.edge.outcome import Fault, FaultKind, Measurement, Outcome

Decoder = Callable[[bytes], Outcome]
SUPPLEMENT = files("bluetooth_sig") / "bluetooth_sig" / "gss"
NAMES = {
    sig.WEIGHT_MEASUREMENT: "weight_measurement", sig.WEIGHT_FEATURE: "weight_scale_feature",
    sig.PRESSURE: "pressure", sig.TEMPERATURE: "temperature", sig.HUMIDITY: "humidity",
    sig.BATTERY_LEVEL: "battery_level",
}  # fmt: skip


def agree(found: Outcome, value: float, unit: str) -> None:
    assert isinstance(found, Measurement)
    assert found.value == pytest.approx(value)
    assert found.unit == unit


def supplement(name: str) -> dict[str, Any]:
    file = SUPPLEMENT / f"org.bluetooth.characteristic.{name}.yaml"
    found: dict[str, Any] = yaml.safe_load(file.read_text(encoding="utf-8"))["characteristic"]
    return found


@pytest.mark.parametrize(("number", "name"), NAMES.items(), ids=NAMES.values())
def test_the_numbers_are_those_of_bleaks_table_and_of_the_assigned_numbers(number: int, name: str) -> None:
    known = bleak.uuids.uuidstr_to_str(bleak.uuids.normalize_uuid_16(number))
    assert known.lower().replace(" ", "_") == name
    translator = BluetoothSIGTranslator()
    info = translator.get_characteristic_info_by_uuid(f"{number:04x}")
    assert info is not None
    assert info.name.lower().replace(" ", "_") == name


def test_device_informations_texts_are_those_of_bleaks_table() -> None:
    names = {what: bleak.uuids.uuid16_dict[number] for number, what in sig.DEVICE_INFORMATION.items()}
    assert names == {
        "manufacturer": "Manufacturer Name String", "model": "Model Number String", "serial": "Serial Number String",
        "firmware": "Firmware Revision String", "hardware": "Hardware Revision String",
        "software": "Software Revision String",
    }  # fmt: skip


def test_the_optional_fields_of_a_weight_are_as_long_as_the_supplement_says() -> None:
    optional = {field["field"]: field["size"] for field in supplement("weight_measurement")["structure"][2:]}
    assert optional == {"Time Stamp": "0 or 7", "User ID": "0 or 1", "BMI": "0 or 2", "Height": "0 or 2"}
    for flags in range(16):
        size = 3 + 7 * bool(flags & 2) + bool(flags & 4) + 4 * bool(flags & 8)
        for extra, kind in ((-1, FaultKind.TRUNCATED), (1, FaultKind.OVERSIZED)):
            wrong = sig.weight_measurement(bytes([flags]) + bytes(size - 1 + extra))
            assert isinstance(wrong, Fault)
            assert wrong.kind is kind
        assert sig.weight_measurement(bytes([flags]) + bytes(size - 1)) == Measurement(0.0, "lb" if flags & 1 else "kg")


@given(st.integers(0, 0xFFFE), st.booleans())
def test_a_weight_is_what_the_other_decoder_makes_of_it(steps: int, imperial: bool) -> None:
    payload = struct.pack("<BH", imperial, steps)
    other = BluetoothSIGTranslator().parse_characteristic("2A9D", payload)
    agree(sig.weight_measurement(payload), other.weight, "lb" if imperial else "kg")


@pytest.mark.parametrize("flags", [0x10, 0x20, 0x40, 0x80])
def test_reserved_flags_of_a_weight_are_refused(flags: int) -> None:
    found = sig.weight_measurement(bytes([flags, 1, 0]))
    assert isinstance(found, Fault)
    assert found.kind is FaultKind.RESERVED


@pytest.mark.parametrize("flags", [0, 1])
def test_a_weight_that_was_not_measured_is_no_number(flags: int) -> None:
    found = sig.weight_measurement(bytes([flags, 0xFF, 0xFF]))
    assert isinstance(found, Fault)
    assert found.kind is FaultKind.UNSUCCESSFUL


def test_the_scales_resolutions_are_those_of_the_supplement() -> None:
    bits = {row["bit"]: row["description"] for row in supplement("weight_scale_feature")["fields"][0]["values"]}
    for step in range(16):
        found = sig.weight_features(struct.pack("<I", step << 3 | 1))
        assert isinstance(found, sig.WeightFeatures)
        said = f"= Resolution of {found.resolution_kg:g} kg or {found.resolution_lb:g} lb" if 0 < step < 8 else ""
        assert f"0b{step:04b} {said}" in bits["3–6"] or (step in {0, *range(8, 16)} and found.resolution_kg is None)
        assert (found.time_stamp, found.users, found.body) == (True, False, False)
    assert isinstance(sig.weight_features(b"\0\0\0"), Fault)


@given(st.integers(0, 2**32 - 1))
def test_a_pressure_is_what_the_other_decoder_makes_of_it(steps: int) -> None:
    payload = struct.pack("<I", steps)
    other = BluetoothSIGTranslator().parse_characteristic("2A6D", payload)
    agree(sig.pressure(payload), other, "Pa")


@given(st.integers(-27315, 32767))
def test_a_temperature_is_what_the_other_decoder_makes_of_it(steps: int) -> None:
    payload = struct.pack("<h", steps)
    other = BluetoothSIGTranslator().parse_characteristic("2A6E", payload)
    agree(sig.temperature(payload), other, "Cel")


@given(st.integers(0, 10000))
def test_a_humidity_is_what_the_other_decoder_makes_of_it(steps: int) -> None:
    payload = struct.pack("<H", steps)
    other = BluetoothSIGTranslator().parse_characteristic("2A6F", payload)
    agree(sig.humidity(payload), other, "%RH")


@pytest.mark.parametrize("level", [0, 57, 100])
def test_a_battery_level_is_what_the_other_decoder_makes_of_it(level: int) -> None:
    other = BluetoothSIGTranslator().parse_characteristic("2A19", bytes([level]))
    assert sig.battery_level(bytes([level])) == Measurement(float(other), "%EL")


@pytest.mark.parametrize(
    ("decoder", "payload", "kind"),
    [
        (sig.temperature, b"\x00\x80", FaultKind.UNKNOWN),
        (sig.temperature, struct.pack("<h", -27316), FaultKind.OUT_OF_RANGE),
        (sig.humidity, b"\xff\xff", FaultKind.UNKNOWN),
        (sig.humidity, struct.pack("<H", 10001), FaultKind.OUT_OF_RANGE),
        (sig.battery_level, b"\x65", FaultKind.OUT_OF_RANGE), (sig.pressure, b"\0\0\0", FaultKind.TRUNCATED),
        (sig.pressure, b"\0\0\0\0\0", FaultKind.OVERSIZED), (sig.weight_measurement, b"", FaultKind.TRUNCATED),
    ],
)  # fmt: skip
def test_special_and_prohibited_values_are_no_numbers(decoder: Decoder, payload: bytes, kind: FaultKind) -> None:
    found = decoder(payload)
    assert isinstance(found, Fault)
    assert found.kind is kind


@given(st.sampled_from([*(d for _, d in sig.DECODERS.values()), sig.battery_level]), st.binary(max_size=24))
def test_no_bytes_raise_and_no_value_is_without_its_unit(decoder: Decoder, payload: bytes) -> None:
    found = decoder(payload)
    if isinstance(found, Measurement):
        assert math.isfinite(found.value)
        assert found.unit
    else:
        assert isinstance(found, Fault)
        assert found.text


@given(st.binary(max_size=64))
def test_any_text_can_be_shown(payload: bytes) -> None:
    assert sig.text(payload).isprintable()


def test_a_text_ends_at_its_zero() -> None:
    assert sig.text(b"Bench 7\0\xff\xff") == "Bench 7"
