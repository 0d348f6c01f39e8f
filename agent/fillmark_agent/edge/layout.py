"""A declared layout: where in a device's bytes a value is, and what it means.

For devices that do not describe themselves: raw notifications, advertisements, reports.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Annotated, Self

from pydantic import AfterValidator, Field, model_validator

from fillmark_agent.config_table import Table
from fillmark_agent.edge.numbers import FORMATS, Endian, read_number
from fillmark_agent.edge.outcome import Fault, FaultKind, Measurement, Outcome, shown

LONGEST = 512
"""Bytes of an attribute's value: Bluetooth Core Specification, volume 3, part F, section 3.2.9 (from memory)."""


def _known_format(name: str) -> str:
    if name not in FORMATS:
        raise ValueError(f'"{name}" is no format')
    return name


def _hex(text: str) -> str:
    try:
        bytes.fromhex(text)
    except ValueError as error:
        raise ValueError(f'"{text}" is no row of bytes') from error
    return text


class LayoutTable(Table):
    """Where one value is within the bytes."""

    offset: int = Field(ge=0, lt=LONGEST, description=f"the number of the first byte, 0 to {LONGEST - 1}")
    format: Annotated[str, AfterValidator(_known_format)] = Field(description=f"one of {', '.join(FORMATS)}")
    scale: float = Field(
        default=1.0, allow_inf_nan=False, description="a number other than 0: value = number · scale + add"
    )
    add: float = Field(default=0.0, allow_inf_nan=False, description="a number, in the unit")
    unit: str | None = Field(default=None, description='the unit of the value, as "kg", "psi" or "Cel"')
    bit: int | None = Field(default=None, ge=0, lt=128, description="the number of a bit, 0 the lowest, for a flag")
    endian: Endian = Field(default="little", description='"little" or "big"')
    length: int | None = Field(default=None, ge=1, le=LONGEST, description="the only right number of bytes")
    starts_with: Annotated[str, AfterValidator(_hex)] = Field(
        default="", description='the first bytes of the messages that count, as "a1 02"'
    )
    unknown: int | None = Field(default=None, description="the whole number that stands for an unknown value")

    @model_validator(mode="after")
    def _has_meaning(self) -> Self:
        if not self.scale:
            raise ValueError("scale is 0")
        is_flag = self.format == "boolean" or self.bit is not None
        if is_flag and self.unit is not None:
            raise ValueError("a flag has no unit; leave unit out, or bit")
        if not is_flag and self.unit is None:
            raise ValueError('a number needs its unit; give unit, as "kg"')
        if self.bit is not None and (self.bit >= FORMATS[self.format].bits or "uint" not in self.format):
            raise ValueError("bit needs an unsigned format that has so many bits")
        return self

    def layout(self) -> Layout:
        """The decoder."""
        return Layout(self, bytes.fromhex(self.starts_with))


@dataclass(frozen=True, slots=True)
class Layout:
    """Decodes one value."""

    table: LayoutTable
    prefix: bytes

    def read(self, payload: bytes) -> Outcome | None:
        """The value in a message, or None when the message is of another kind (`starts_with`)."""
        table = self.table
        if payload[: len(self.prefix)] != self.prefix:
            return None
        end = table.offset + FORMATS[table.format].size
        least = max(end, table.length or 0)
        if len(payload) < least:
            return Fault(FaultKind.TRUNCATED, f"{len(payload)} of at least {least} bytes: {shown(payload)}")
        if len(payload) > (table.length or LONGEST):
            most = table.length or LONGEST
            return Fault(FaultKind.OVERSIZED, f"{len(payload)} bytes where {most} are the most: {shown(payload)}")
        return self._value(read_number(payload[table.offset : end], table.format, table.endian))

    def _value(self, number: float | bool | Fault) -> Outcome:
        table = self.table
        if isinstance(number, Fault):
            return number
        if table.unknown is not None and number == table.unknown:
            return Fault(FaultKind.UNKNOWN, "the device says that the value is unknown")
        if table.bit is not None:
            return Measurement(bool(int(number) >> table.bit & 1), None)
        if isinstance(number, bool):
            return Measurement(number, None)
        value = number / round(1.0 / table.scale) if _is_whole(1.0 / table.scale) else number * table.scale
        value += table.add
        if not math.isfinite(value):
            return Fault(FaultKind.NOT_A_NUMBER, f"the scaled value is {value}")
        return Measurement(value, table.unit)


def _is_whole(number: float) -> bool:
    """Whether dividing by it gives the decimal that a person expects: 1214 · 0.001 is 1.214, not 1.2140000000000002."""
    return 1.0 <= abs(number) < 1e15 and abs(number - round(number)) < 1e-9 * abs(number)
