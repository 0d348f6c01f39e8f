"""What a scale's HID report says, by the usage page for weighing devices (0x8D).

USB-IF, HID Point of Sale Usage Tables, version 1.02 (5 March 2001), section 4 "Weighing devices"; the same numbers
stand in HID Usage Tables for USB, "Scales page (0x8D)". Status and unit are named arrays: a value selects one of the
field's usages, counted from its logical minimum (HID 1.11, section 6.2.2.5). Data Scaling is a power of ten.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from fillmark_agent.edge.outcome import Fault, FaultKind, Measurement, shown
from fillmark_agent.scales.hid_layout import Field, Layout, LayoutError, layout
from fillmark_agent.scales.indication import Indication, fault

PAGE = 0x8D
DATA_WEIGHT = 0x40
DATA_SCALING = 0x41
MOST_SCALING = 128
UNITS: Mapping[int, tuple[str, str | None]] = {
    0x51: ("milligrams", "mg"), 0x52: ("grams", "g"), 0x53: ("kilograms", "kg"), 0x54: ("carats", None),
    0x55: ("taels", None), 0x56: ("grains", None), 0x57: ("pennyweights", None), 0x58: ("metric tons", "t"),
    0x59: ("avoirdupois tons", None), 0x5A: ("troy ounces", None), 0x5B: ("ounces", "oz"), 0x5C: ("pounds", "lb"),
}  # fmt: skip
"""Name and sign of a unit by its usage. Units in which nobody weighs refrigerant have no sign and are refused."""
IN_MOTION, STABLE_AT_ZERO, STABLE, UNDER_ZERO = 0x73, 0x72, 0x74, 0x75
STATUS: Mapping[int, Fault | None] = {
    0x71: Fault(FaultKind.DEVICE_FAULT, "the scale reports a fault; switch it off and on, and look at its display"),
    STABLE_AT_ZERO: None,
    IN_MOTION: None,
    STABLE: None,
    UNDER_ZERO: Fault(FaultKind.UNDER_ZERO, "the scale is below its zero; put back what stood on it, or zero it"),
    0x76: Fault(FaultKind.OVERLOAD, "more stands on the scale than it can weigh; take it off"),
    0x77: Fault(FaultKind.NEEDS_CARE, "the scale asks to be calibrated"),
    0x78: Fault(FaultKind.NEEDS_CARE, "the scale asks to be zeroed; empty it and press zero"),
}
"""What is wrong by status usage; None where the mass is a mass."""
_WORST_FIRST = (0x71, 0x76, 0x77, 0x78, UNDER_ZERO, IN_MOTION, STABLE_AT_ZERO, STABLE)


@dataclass(frozen=True, slots=True)
class HidScale:
    """Decodes the reports of one scale. Made by `hid_scale`."""

    layout: Layout

    @property
    def longest(self) -> int:
        """Bytes of the longest report."""
        return max(self.layout.length(number) for number in self.layout.bits)

    def decode(self, report: bytes) -> Indication | None:
        """What a report says; None when it is about something else. Never raises."""
        if not report:
            return fault(FaultKind.TRUNCATED, "an empty report")
        number = report[0] if self.layout.numbered else 0
        if number not in self.layout.bits:
            return fault(FaultKind.UNREADABLE, f"a report that the descriptor does not know: {shown(report)}")
        fields = [field for field in self.layout.fields if field.report_id == number]
        usages = {usage for field in fields for usage in _pages(field)}
        if not usages & {DATA_WEIGHT, *STATUS}:
            return None
        wrong = self._length_fault(report, self.layout.length(number))
        if wrong is not None:
            return wrong
        bits = int.from_bytes(report[self.layout.numbered :], "little")
        return _indication(_Said.of(fields, bits), weighs=DATA_WEIGHT in usages)

    def _length_fault(self, report: bytes, length: int) -> Indication | None:
        """Some systems hand over every report at the length of the longest one, filled up with zeros."""
        seen = f"a report of {len(report)} bytes, not {length}: {shown(report)}"
        if len(report) < length:
            return fault(FaultKind.TRUNCATED, seen)
        padded = len(report) == self.longest and not any(report[length:])
        return None if len(report) == length or padded else fault(FaultKind.OVERSIZED, seen)


def hid_scale(descriptor: bytes) -> HidScale:
    """A decoder for the scale with this report descriptor.

    Raises:
        LayoutError: the descriptor cannot be read, or has no weight in it.
    """
    found = layout(descriptor)
    if not any(DATA_WEIGHT in _pages(field) for field in found.fields):
        raise LayoutError("none of its reports carries a weight (usage page 0x8D, usage 0x40)")
    return HidScale(found)


@dataclass(slots=True)
class _Said:
    """What stands in one report: None where it says nothing, an empty status where it selects nothing known."""

    weight: int | None = None
    in_range: bool = True
    scaling: int = 0
    units: tuple[int, ...] | None = None
    status: tuple[int, ...] | None = None

    @classmethod
    def of(cls, fields: list[Field], bits: int) -> _Said:
        said = cls()
        for field in fields:
            known = _pages(field)
            chosen = _chosen(field, bits)
            if DATA_WEIGHT in chosen:
                said._take_weight(field, chosen[DATA_WEIGHT])
            said.scaling = chosen.get(DATA_SCALING, said.scaling)
            if known & UNITS.keys():
                said.units = (said.units or ()) + tuple(usage for usage in chosen if usage in UNITS)
            if known & STATUS.keys():
                said.status = (said.status or ()) + tuple(usage for usage in chosen if usage in STATUS)
        return said

    def _take_weight(self, field: Field, value: int) -> None:
        """A maximum below the minimum is a common slip (0xFFFF read as −1): then the bits are the only limit."""
        self.weight = value
        self.in_range = field.logical_min > field.logical_max or field.logical_min <= value <= field.logical_max


def _pages(field: Field) -> set[int]:
    """Usages of this page in a field, as far as they are of interest."""
    of_interest = (DATA_WEIGHT, DATA_SCALING, *UNITS, *STATUS)
    spans = [span for span in field.usages if span.page == PAGE]
    return {usage for usage in of_interest if any(span.first <= usage <= span.last for span in spans)}


def _chosen(field: Field, bits: int) -> dict[int, int]:
    """Usages of this page that a field speaks of, each with its value; of an array only those that it selects."""
    said: dict[int, int] = {}
    for index, value in enumerate(field.values(bits)):
        usage = field.usage(index if field.variable else value - field.logical_min)
        if usage is None or usage[0] != PAGE:
            continue
        is_number = usage[1] in {DATA_WEIGHT, DATA_SCALING}
        if field.variable if is_number else value or not field.variable:
            said[usage[1]] = value
    return said


def _indication(said: _Said, *, weighs: bool) -> Indication | None:
    status = None if said.status is None else next((each for each in _WORST_FIRST if each in said.status), 0)
    if status == 0:
        return fault(FaultKind.RESERVED, "the status is none that the standard knows")
    below_zero = status == UNDER_ZERO and said.weight is not None and said.weight < 0
    wrong = None if status is None or below_zero else STATUS[status]
    if wrong is not None:
        return Indication(wrong)
    if not weighs:
        return None
    if said.weight is None or not said.in_range or abs(said.scaling) > MOST_SCALING:
        return fault(FaultKind.NOT_A_NUMBER, f"in the place of the mass stands {said.weight} × 10^{said.scaling}")
    units = set(said.units or ())
    name, sign = UNITS[units.pop()] if len(units) == 1 else ("none, or several", None)
    if sign is None:
        return fault(FaultKind.IMPOSSIBLE_UNIT, f"the unit is {name}; set the scale to g, kg, oz or lb")
    stable = None if status is None or below_zero else status != IN_MOTION
    return Indication(Measurement(float(Decimal(said.weight).scaleb(said.scaling)), sign), stable)
