"""What a decoder makes of a device's words: a measured value with its unit, or a fault. Never a number in doubt."""

from __future__ import annotations

import enum
from dataclasses import dataclass


class FaultKind(enum.StrEnum):
    """Why there is no number."""

    TRUNCATED = "truncated"
    OVERSIZED = "oversized"
    RESERVED = "reserved"
    UNSUCCESSFUL = "unsuccessful"
    UNKNOWN = "unknown"
    NOT_A_NUMBER = "not-a-number"
    UNREADABLE = "unreadable"
    IMPOSSIBLE_UNIT = "impossible-unit"
    UNIT_CHANGED = "unit-changed"
    UNIT_SUSPECTED = "unit-suspected"
    OUT_OF_RANGE = "out-of-range"
    OVERRUN = "overrun"
    DEVICE_FAULT = "device-fault"
    OVERLOAD = "overload"
    UNDER_ZERO = "under-zero"
    NEEDS_CARE = "needs-care"
    STALE = "stale"


@dataclass(frozen=True, slots=True)
class Measurement:
    """A value as the device gave it.

    Attributes:
        value: finite number in `unit`, or a flag.
        unit: a unit's sign, as "kg", "psi", "Cel" or "%RH"; None for a flag only.
    """

    value: float | bool
    unit: str | None


@dataclass(frozen=True, slots=True)
class Fault:
    """Something arrived and is no value.

    Attributes:
        kind: what is wrong, one word that programs may compare.
        text: a sentence for people, with the offending bytes or number.
    """

    kind: FaultKind
    text: str


Outcome = Measurement | Fault


def shown(payload: bytes) -> str:
    """The bytes for a message, at most 24 of them."""
    return payload[:24].hex(" ") + (" …" if len(payload) > 24 else "") if payload else "nothing"
