"""The tables of wired scales in the configuration."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from fillmark_agent.config_table import BAY_HINT, NAME, NAME_HINT, Table
from fillmark_agent.edge.channel_table import ChannelTable
from fillmark_agent.scales.indication import UNITS
from fillmark_agent.scales.line_pattern import LinePattern, pattern

_MOST_USB = 0xFFFF
_EACH_UNIT = " ".join(UNITS)


def _weighs(table: ChannelTable) -> ChannelTable:
    if table.quantity != "mass":
        raise ValueError(f'"{table.channel}" is no mass')
    return table


def _regular(text: str) -> str:
    pattern(text)
    return text


def _plain_address(port: str) -> str:
    if not port.isprintable() or not port or ("://" in port and not port.startswith("socket://")):
        raise ValueError(f'"{port}" is no port')
    return port


Mass = Annotated[ChannelTable, AfterValidator(_weighs)]
Pattern = Annotated[str, AfterValidator(_regular)]


class HidScaleTable(Table):
    """A scale on USB that says what it is by usage page 0x8D."""

    driver: Literal["hid-scale"]
    name: str = Field(pattern=NAME, description=NAME_HINT)
    bay: str = Field(default="bay-1", pattern=NAME, description=BAY_HINT)
    vendor_id: int | None = Field(
        default=None, ge=0, le=_MOST_USB, description="the USB vendor number, as 0x1234, where there are several scales"
    )
    product_id: int | None = Field(
        default=None, ge=0, le=_MOST_USB, description="the USB product number, as 0x1234, where there are several"
    )
    serial: str | None = Field(default=None, description="the serial number, where there are two of a kind")
    interval_s: float | None = Field(
        default=None, gt=0.0, description="seconds between two reports; leave it out when it reports only changes"
    )
    mass: Mass = Field(
        default=ChannelTable(channel="scale/mass"), description='a table [devices.mass] with channel = "scale/mass"'
    )


class LineScaleTable(Table):
    """A scale that writes lines, on a serial port or behind a TCP port."""

    driver: Literal["line-scale"]
    name: str = Field(pattern=NAME, description=NAME_HINT)
    bay: str = Field(default="bay-1", pattern=NAME, description=BAY_HINT)
    port: Annotated[str, AfterValidator(_plain_address)] = Field(
        description='a serial port, as "/dev/ttyUSB0" or "COM3", or a TCP port, as "socket://192.0.2.7:4001"'
    )
    baud: int = Field(default=9600, gt=0, description="bits a second, as 9600")
    data_bits: Literal[7, 8] = Field(default=8, description="7 or 8")
    parity: Literal["none", "even", "odd"] = Field(default="none", description='"none", "even" or "odd"')
    stop_bits: Literal[1, 2] = Field(default=1, description="1 or 2")
    pattern: Pattern = Field(
        description="a regular expression for the whole line, with groups (?P<value>…), and if it has them "
        "(?P<sign>…), (?P<unit>…), (?P<stable>…)"
    )
    unit: str | None = Field(default=None, description=f"the unit of lines without one, of {_EACH_UNIT}")
    units: dict[str, str] = Field(
        default={}, description=f'the unit by what the scale writes for it, as {{ "#" = "lb" }}, of {_EACH_UNIT}'
    )
    stable: tuple[str, ...] = Field(default=(), description='texts of the group stable without motion, as ["ST"]')
    overload: Pattern | None = Field(default=None, description="a regular expression for lines that mean overload")
    fault: Pattern | None = Field(default=None, description="a regular expression for lines that mean a fault")
    ignore: Pattern | None = Field(default=None, description="a regular expression for lines that mean nothing")
    poll: str = Field(default="", max_length=100, description='what asks the scale for a mass, as "W\\r\\n"')
    poll_s: float = Field(default=0.2, ge=0.02, le=60.0, description="seconds between two questions, 0.02 to 60")
    interval_s: float = Field(
        default=1.0, ge=0.0, description="seconds between two lines; 0 when it writes only on a key press"
    )
    mass: Mass = Field(
        default=ChannelTable(channel="scale/mass"), description='a table [devices.mass] with channel = "scale/mass"'
    )

    @property
    def lines(self) -> LinePattern:
        """How its lines read."""
        overload, fault, ignore = (
            None if text is None else pattern(text) for text in (self.overload, self.fault, self.ignore)
        )
        return LinePattern(
            pattern(self.pattern), self.unit, self.units, frozenset(self.stable), overload, fault, ignore
        )

    @model_validator(mode="after")
    def _has_meaning(self) -> Self:
        _ = self.lines
        if not self.poll.isascii():
            raise ValueError("poll has characters that are not ASCII")
        return self
