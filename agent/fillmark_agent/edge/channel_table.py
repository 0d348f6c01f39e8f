"""What the user says of one channel: its name, what the sensor's number stands for, its limits, its calibration."""

from __future__ import annotations

from typing import Annotated, Literal, Self

from pydantic import BeforeValidator, Field, model_validator

from fillmark.wire import channels, quantities
from fillmark_agent.config_table import Table
from fillmark_agent.edge.calibration import CalibrationTable
from fillmark_agent.edge.units import ICE_POINT_K

_LOCAL = r"^[A-Za-z0-9][A-Za-z0-9_.-]*/(mass|stable|pressure|temperature|humidity)$"
_DIMENSIONS = {"mass": quantities.MASS, "pressure": quantities.PRESSURE, "temperature": quantities.TEMPERATURE}


def _text_or_number(value: object) -> object:
    if isinstance(value, bool) or not isinstance(value, (int, float, str)):
        raise ValueError("this is neither a number nor a text")  # noqa: TRY004 - pydantic reports ValueError only
    return value


Quantity = Annotated[float | str, BeforeValidator(_text_or_number)]


class ChannelTable(Table):
    """A channel of a real device. Its quantities take numbers in kg, Pa, Cel or %RH, or a text such as "2 g"."""

    channel: str = Field(pattern=_LOCAL, description='a name below the bay, as "scale/mass" or "low/pressure"')
    load: Literal["gross", "net"] = Field(default="gross", description='of a mass: "gross", or "net" with tare')
    tare: Quantity | None = Field(default=None, description='the tare that a net mass leaves out, as "1.2 kg"')
    reference: Literal["absolute", "gauge"] = Field(
        default="absolute", description='of a pressure: "absolute", or "gauge" with air_pressure'
    )
    air_pressure: Quantity | None = Field(
        default=None, description='the pressure of the air that a gauge pressure leaves out, as "1013 hPa"'
    )
    least: Quantity | None = Field(default=None, description="the smallest value that can be right, as -0.01")
    most: Quantity | None = Field(default=None, description='the largest value that can be right, as "15 kg"')
    calibration: CalibrationTable | None = Field(default=None, description="a table with zero, span, date, uncertainty")

    @model_validator(mode="after")
    def _fits_its_quantity(self) -> Self:
        if self.load == "net" and (self.quantity != "mass" or self.tare is None):
            raise ValueError('load = "net" is for a mass and needs its tare, as tare = "1.2 kg"')
        if self.reference == "gauge" and (self.quantity != "pressure" or self.air_pressure is None):
            raise ValueError(
                'reference = "gauge" is for a pressure and needs air_pressure, as "1013 hPa"; '
                "or leave it out and declare the channel gauge when the job is opened"
            )
        if self.quantity == "stable" and (self.calibration or self.least is not None or self.most is not None):
            raise ValueError("a flag has no limits and no calibration")
        for value in (self.tare, self.air_pressure, self.least, self.most):
            self.inside(value)
        return self

    @property
    def quantity(self) -> str:
        """Last part of the name."""
        return self.channel.rpartition("/")[2]

    @property
    def limits(self) -> tuple[float, float]:
        """Smallest and largest value, unit inside: the user's, within what any sensor can show."""
        kind = channels.QUANTITIES[self.quantity]
        least, most = self.inside(self.least), self.inside(self.most)
        return (
            kind.least if least is None else max(kind.least, least),
            kind.most if most is None else min(kind.most, most),
        )

    @property
    def shift(self) -> float:
        """What the sensor's number leaves out: the tare of a net mass, the air of a gauge pressure. Unit inside."""
        left_out = self.tare if self.load == "net" else self.air_pressure if self.reference == "gauge" else None
        return self.inside(left_out) or 0.0

    def inside(self, value: float | str | None) -> float | None:
        """A number or text of this table in the unit inside.

        Raises:
            ValueError: no quantity of this channel's kind.
        """
        if value is None or not isinstance(value, str):
            return value
        if self.quantity not in _DIMENSIONS:
            raise ValueError(f'"{value}" is no number')
        read = quantities.parse(value, _DIMENSIONS[self.quantity])
        return read - ICE_POINT_K if self.quantity == "temperature" else read
