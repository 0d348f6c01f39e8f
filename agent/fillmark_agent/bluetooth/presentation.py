"""Characteristics that describe themselves with a Presentation Format descriptor (0x2904).

Seven bytes: format, exponent, unit, namespace, description (Bluetooth Core Specification, volume 3, part G, section
3.3.3.5, section from memory; formats and units: Assigned Numbers). value = number · 10 ** exponent in the unit. That is
how a scale gives grams, where the Weight Scale profile ends at 5 g.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fillmark_agent.edge.numbers import BY_CODE, FORMATS, read_number, to_power
from fillmark_agent.edge.outcome import Fault, FaultKind, Measurement, Outcome, shown

DESCRIPTOR = 0x2904
UNITLESS = 0x2700
UNITS: Mapping[int, tuple[str, str]] = {
    0x2702: ("kg", "mass"), 0x2768: ("t", "mass"), 0x27B8: ("lb", "mass"),
    0x2724: ("Pa", "pressure"), 0x2780: ("bar", "pressure"), 0x2781: ("mmHg", "pressure"), 0x27A5: ("psi", "pressure"),
    0x272F: ("Cel", "temperature"), 0x2705: ("K", "temperature"), 0x27AC: ("degF", "temperature"),
    0x27AD: ("%", "humidity"),
}  # fmt: skip
"""Units that a reading can have: our sign and the quantity it points to."""


@dataclass(frozen=True, slots=True)
class Presentation:
    """How a characteristic is read.

    Attributes:
        format: name in the table of formats.
        exponent: decimal.
        unit: our sign; None for a flag.
        quantity: what the unit points to; "stable" for a flag, which is a guess that a person confirms.
    """

    format: str
    exponent: int
    unit: str | None
    quantity: str

    @property
    def step(self) -> float | None:
        """Smallest step of a whole number, in `unit`; None for floats and flags."""
        return to_power(1, self.exponent) if FORMATS[self.format].scales else None

    def read(self, payload: bytes) -> Outcome:
        """The value. No bytes raise."""
        number = read_number(payload, self.format)
        if isinstance(number, (Fault, bool)):
            return number if isinstance(number, Fault) else Measurement(number, None)
        return Measurement(to_power(number, self.exponent if FORMATS[self.format].scales else 0), self.unit)


def parse(descriptor: bytes) -> Presentation | Fault:
    """Read a Presentation Format descriptor. No bytes raise."""
    if len(descriptor) != 7:
        kind = FaultKind.TRUNCATED if len(descriptor) < 7 else FaultKind.OVERSIZED
        return Fault(kind, f"a presentation format has 7 bytes, this one {len(descriptor)}: {shown(descriptor)}")
    name = BY_CODE.get(descriptor[0])
    if name is None:
        return Fault(FaultKind.UNREADABLE, f"the format 0x{descriptor[0]:02x} is no number: {shown(descriptor)}")
    exponent = int.from_bytes(descriptor[1:2], "little", signed=True)
    unit = int.from_bytes(descriptor[2:4], "little")
    if name == "boolean":
        if unit != UNITLESS:
            return Fault(FaultKind.IMPOSSIBLE_UNIT, f"a flag with the unit 0x{unit:04x}: {shown(descriptor)}")
        return Presentation(name, 0, None, "stable")
    if unit not in UNITS:
        return Fault(FaultKind.IMPOSSIBLE_UNIT, f"the unit 0x{unit:04x} is none of a reading's: {shown(descriptor)}")
    return Presentation(name, exponent, *UNITS[unit])
