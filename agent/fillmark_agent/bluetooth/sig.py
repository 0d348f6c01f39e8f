"""Decoders of the Bluetooth SIG's own characteristics.

Layouts and special values: GATT Specification Supplement, sections of the same names; "measurement unsuccessful"
(0xFFFF): Weight Scale Service 1.0, section 3.2.1.2 (section from memory). What a decoder cannot take is a fault; no
bytes raise.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from fillmark_agent.edge.outcome import Fault, FaultKind, Measurement, Outcome, shown

WEIGHT_MEASUREMENT = 0x2A9D
WEIGHT_FEATURE = 0x2A9E
PRESSURE = 0x2A6D
TEMPERATURE = 0x2A6E
HUMIDITY = 0x2A6F
BATTERY_LEVEL = 0x2A19

_IMPERIAL, _TIME_STAMP, _USER, _BODY, _RESERVED = 0x01, 0x02, 0x04, 0x08, 0xF0
_UNSUCCESSFUL = 0xFFFF
_OPTIONAL_BYTES = {_TIME_STAMP: 7, _USER: 1, _BODY: 4}
_RESOLUTION_KG = (None, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005)
_RESOLUTION_LB = (None, 1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01)
_ABSOLUTE_ZERO_C = -273.15

DEVICE_INFORMATION: Mapping[int, str] = {
    0x2A29: "manufacturer", 0x2A24: "model", 0x2A25: "serial", 0x2A26: "firmware", 0x2A27: "hardware",
    0x2A28: "software",
}  # fmt: skip
"""Text characteristics of the Device Information service, by what they tell."""


@dataclass(frozen=True, slots=True)
class WeightFeatures:
    """What a Weight Scale says of itself.

    Attributes:
        resolution_kg: step of its values in kilograms, None when it does not say.
        resolution_lb: step in pounds, None when it does not say.
    """

    time_stamp: bool
    users: bool
    body: bool
    resolution_kg: float | None
    resolution_lb: float | None


def _exactly(payload: bytes, size: int) -> Fault | None:
    if len(payload) == size:
        return None
    kind = FaultKind.TRUNCATED if len(payload) < size else FaultKind.OVERSIZED
    return Fault(kind, f"{len(payload)} bytes where {size} are right: {shown(payload)}")


def weight_measurement(payload: bytes) -> Outcome:
    """A weight in kilograms (steps of 0.005) or pounds (0.01), as the flags say."""
    if not payload:
        return Fault(FaultKind.TRUNCATED, "a weight measurement without a byte")
    flags = payload[0]
    if flags & _RESERVED:
        return Fault(FaultKind.RESERVED, f"reserved flags are set: {shown(payload)}")
    size = 3 + sum(extra for flag, extra in _OPTIONAL_BYTES.items() if flags & flag)
    if (problem := _exactly(payload, size)) is not None:
        return problem
    steps = int.from_bytes(payload[1:3], "little")
    if steps == _UNSUCCESSFUL:
        return Fault(FaultKind.UNSUCCESSFUL, "the scale says that the measurement was unsuccessful")
    return Measurement(steps / 100, "lb") if flags & _IMPERIAL else Measurement(steps / 200, "kg")


def weight_features(payload: bytes) -> WeightFeatures | Fault:
    """What the scale can do. Bits that are reserved are ignored, as the Supplement's readers must."""
    if (problem := _exactly(payload, 4)) is not None:
        return problem
    bits = int.from_bytes(payload, "little")
    step = bits >> 3 & 0x0F
    known = step < len(_RESOLUTION_KG)
    return WeightFeatures(
        time_stamp=bool(bits & 1), users=bool(bits & 2), body=bool(bits & 4),
        resolution_kg=_RESOLUTION_KG[step] if known else None,
        resolution_lb=_RESOLUTION_LB[step] if known else None,
    )  # fmt: skip


def pressure(payload: bytes) -> Outcome:
    """A pressure in steps of 0.1 Pa."""
    return _exactly(payload, 4) or Measurement(int.from_bytes(payload, "little") / 10, "Pa")


def temperature(payload: bytes) -> Outcome:
    """A temperature in steps of 0.01 °C; 0x8000 is unknown."""
    if (problem := _exactly(payload, 2)) is not None:
        return problem
    value = int.from_bytes(payload, "little", signed=True)
    if value == -0x8000:
        return Fault(FaultKind.UNKNOWN, "the device says that the temperature is unknown")
    if value / 100 < _ABSOLUTE_ZERO_C:
        return Fault(FaultKind.OUT_OF_RANGE, f"{value / 100} °C is below absolute zero")
    return Measurement(value / 100, "Cel")


def humidity(payload: bytes) -> Outcome:
    """A relative humidity in steps of 0.01 %; 0xFFFF is unknown."""
    if (problem := _exactly(payload, 2)) is not None:
        return problem
    value = int.from_bytes(payload, "little")
    if value == 0xFFFF:
        return Fault(FaultKind.UNKNOWN, "the device says that the humidity is unknown")
    if value > 10000:
        return Fault(FaultKind.OUT_OF_RANGE, f"a humidity of {value / 100} % is above 100 %")
    return Measurement(value / 100, "%RH")


def battery_level(payload: bytes) -> Outcome:
    """A battery's level in whole per cent."""
    if (problem := _exactly(payload, 1)) is not None:
        return problem
    if payload[0] > 100:
        return Fault(FaultKind.OUT_OF_RANGE, f"a battery level of {payload[0]} % is above 100 %")
    return Measurement(float(payload[0]), "%EL")


def text(payload: bytes) -> str:
    """A text characteristic: UTF-8 to the first zero, what cannot be read or shown replaced."""
    read = payload.partition(b"\0")[0].decode("utf-8", "replace")
    return "".join(letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in read).strip()


DECODERS: Mapping[int, tuple[str, Callable[[bytes], Outcome]]] = {
    WEIGHT_MEASUREMENT: ("mass", weight_measurement),
    PRESSURE: ("pressure", pressure),
    TEMPERATURE: ("temperature", temperature),
    HUMIDITY: ("humidity", humidity),
}
"""Characteristics that are readings: quantity and decoder."""
