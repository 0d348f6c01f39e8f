"""A HID report descriptor as a list of input fields: where in which report lies what.

Device Class Definition for Human Interface Devices, version 1.11: section 6.2.2 for items and their global and local
state, section 8.4 for the width of a field (section numbers from memory). Written for what a scale needs and for
descriptors that lie: a range of four billion usages costs nothing, and what cannot be read is an error, never a guess.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

_LONG_ITEM = 0xFE
_MOST_BITS = 4096 * 8
_MOST_COUNT = 4096
_WIDEST = 32
_SIGNED = {0x1: "logical_min", 0x2: "logical_max"}
_UNSIGNED = {0x0: "page", 0x7: "size", 0x8: "report_id", 0x9: "count"}
_INPUT, _OUTPUT, _FEATURE, _COLLECTION = 0x8, 0x9, 0xB, 0xA
_PUSH, _POP = 0xA, 0xB
_CONSTANT, _VARIABLE = 0x1, 0x2


class LayoutError(ValueError):
    """The descriptor cannot be read."""


@dataclass(frozen=True, slots=True)
class UsageRange:
    """Usages of one page, both ends included."""

    page: int
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Field:
    """Some equal values beside each other in an input report.

    Attributes:
        report_id: 0 when the device numbers no reports.
        offset: bits before it, the report's number not counted.
        size: bits of one value.
        count: how many values.
        variable: whether each value has its own usage; otherwise each value is an index into the usages.
        usages: in the order in which they were given.
        logical_min: smallest value; below zero the values are signed.
        logical_max: largest value.
    """

    report_id: int
    offset: int
    size: int
    count: int
    variable: bool
    usages: tuple[UsageRange, ...]
    logical_min: int
    logical_max: int

    def values(self, bits: int) -> tuple[int, ...]:
        """The values in a report whose bytes, little end first, are the number `bits`."""
        found = []
        for index in range(self.count):
            raw = bits >> (self.offset + index * self.size) & ((1 << self.size) - 1)
            signed = self.logical_min < 0 and self.size > 0 and raw >> (self.size - 1)
            found.append(raw - (1 << self.size) if signed else raw)
        return tuple(found)

    def usage(self, index: int) -> tuple[int, int] | None:
        """Page and usage number `index` of the list, counted from 0; None beyond its end.

        A variable field with more values than usages gives the last usage to the rest (section 6.2.2.8).
        """
        if index < 0:
            return None
        for span in self.usages:
            length = span.last - span.first + 1
            if index < length:
                return span.page, span.first + index
            index -= length
        return (self.usages[-1].page, self.usages[-1].last) if self.variable and self.usages else None


@dataclass(frozen=True, slots=True)
class _Global:
    page: int = 0
    logical_min: int = 0
    logical_max: int = 0
    size: int = 0
    count: int = 0
    report_id: int = 0


@dataclass(slots=True)
class _Parser:
    state: _Global = field(default_factory=_Global)
    stack: list[_Global] = field(default_factory=list)
    usages: list[UsageRange] = field(default_factory=list)
    least: tuple[int, int] | None = None
    ends: dict[int, int] = field(default_factory=dict)
    fields: list[Field] = field(default_factory=list)

    def main(self, tag: int, value: int) -> None:
        if tag == _INPUT:
            self._input(value)
        self.usages, self.least = [], None

    def globals(self, tag: int, value: int, width: int) -> None:
        if tag in _SIGNED:
            signed = value - (1 << 8 * width) if width and value >> (8 * width - 1) else value
            self.state = replace(self.state, **{_SIGNED[tag]: signed})
        elif tag in _UNSIGNED:
            self.state = replace(self.state, **{_UNSIGNED[tag]: value})
        elif tag == _PUSH:
            self.stack.append(self.state)
        elif tag == _POP:
            if not self.stack:
                raise LayoutError("it takes back a state that it has not kept")
            self.state = self.stack.pop()

    def local(self, tag: int, value: int, width: int) -> None:
        page, usage = (value >> 16, value & 0xFFFF) if width == 4 else (self.state.page, value)
        if tag == 0x0:
            self.usages.append(UsageRange(page, usage, usage))
        elif tag == 0x1:
            self.least = (page, usage)
        elif tag == 0x2:
            if self.least is None or self.least[0] != page or self.least[1] > usage:
                raise LayoutError("a range of usages has no beginning")
            self.usages.append(UsageRange(page, self.least[1], usage))
            self.least = None

    def _input(self, flags: int) -> None:
        now = self.state
        if now.count > _MOST_COUNT or now.size * now.count > _MOST_BITS:
            raise LayoutError(f"a field of {now.count} × {now.size} bits")
        offset = self.ends.get(now.report_id, 0)
        self.ends[now.report_id] = offset + now.size * now.count
        if self.ends[now.report_id] > _MOST_BITS:
            raise LayoutError("a report of more than 4096 bytes")
        if flags & _CONSTANT or not self.usages or now.size > _WIDEST:
            return
        where = (now.report_id, offset, now.size, now.count, bool(flags & _VARIABLE))
        self.fields.append(Field(*where, tuple(self.usages), now.logical_min, now.logical_max))


@dataclass(frozen=True, slots=True)
class Layout:
    """All input reports of a device.

    Attributes:
        fields: every field that carries data; those wider than 32 bits, which section 8.4 rules out, are left out.
        bits: length of each report by its number, the number's own byte not counted.
    """

    fields: tuple[Field, ...]
    bits: dict[int, int]

    @property
    def numbered(self) -> bool:
        """Whether every report begins with a byte that is its number."""
        return any(self.bits)

    def length(self, report_id: int) -> int:
        """Bytes of a report as it is read, its number included where there is one."""
        return (self.bits[report_id] + 7) // 8 + self.numbered


def layout(descriptor: bytes) -> Layout:
    """Read a report descriptor.

    Raises:
        LayoutError: it is cut off, or contradicts itself.
    """
    parser = _Parser()
    for kind, tag, value, width in _items(descriptor):
        if kind == 0:
            parser.main(tag, value)
        elif kind == 1:
            parser.globals(tag, value, width)
        elif kind == 2:
            parser.local(tag, value, width)
    if any(parser.ends) and 0 in parser.ends:
        raise LayoutError("some of its reports have a number and others have none")
    return Layout(tuple(parser.fields), parser.ends)


def _items(descriptor: bytes) -> Iterator[tuple[int, int, int, int]]:
    at = 0
    while at < len(descriptor):
        prefix = descriptor[at]
        if prefix == _LONG_ITEM:
            at += 3 + (descriptor[at + 1] if at + 1 < len(descriptor) else 0)
            continue
        width = (0, 1, 2, 4)[prefix & 0x3]
        data = descriptor[at + 1 : at + 1 + width]
        if len(data) < width:
            raise LayoutError("it is cut off")
        yield prefix >> 2 & 0x3, prefix >> 4, int.from_bytes(data, "little"), width
        at += 1 + width
