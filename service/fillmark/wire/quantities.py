"""Quantities of the API: a number in the SI unit that the field names, or a string such as "1.15 lb".

pint holds the units; the number of a string is read by our own pattern, because pint evaluates expressions.
Factors follow NIST SP 811 (2008) appendix B; the conventional inch of mercury is 3386.389 Pa there.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Annotated

from pydantic import BeforeValidator

if TYPE_CHECKING:
    import pint

_QUANTITY = re.compile(r"\s*([+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,3})?)\s*([^\d\s.,+\-].*?)?\s*")


@dataclass(frozen=True, slots=True, eq=False)
class Dimension:
    """One dimension: its SI unit, an example for messages, and what a person may call its units."""

    name: str
    si_unit: str
    example: str
    aliases: Mapping[str, str]


MASS = Dimension("mass", "kg", '"520 g"', {"lbs": "lb", "gram": "g", "grams": "g"})
LENGTH = Dimension("length", "m", '"1.8 m"', {"in": "inch", '"': "inch"})
VOLUME = Dimension("volume", "m**3", '"2.4 L"', {"cc": "cm**3", "ml": "mL", "l": "L", "m3": "m**3"})
TIME = Dimension("time", "s", '"1.5 s"', {})
PRESSURE = Dimension(
    "pressure",
    "Pa",
    '"28 bar"',
    {"inHg": "inHg", "micron": "micron_of_mercury", "microns": "micron_of_mercury"},
)
TEMPERATURE = Dimension(
    "temperature", "K", '"25 °C"',
    {"°C": "degC", "C": "degC", "Cel": "degC", "°F": "degF", "F": "degF", "K": "kelvin"},
)  # fmt: skip
FLOW = Dimension("mass flow", "kg/s", '"2 g/s"', {})


@cache
def _registry() -> pint.UnitRegistry[float]:
    import pint  # noqa: PLC0415 - a third of a second, only where a string is met

    registry: pint.UnitRegistry[float] = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    registry.define("micron_of_mercury = 1e-3 * mmHg")
    return registry


def parse(value: object, dimension: Dimension, *, least: float | None = None) -> float:
    """Read a quantity into its SI unit.

    Args:
        value: a finite number, or a string of a number and a unit.
        dimension: what it must be.
        least: smallest allowed value in the SI unit.

    Raises:
        ValueError: with a sentence that says what would do.
    """
    number = _number(value, dimension)
    if not math.isfinite(number):
        raise ValueError(f"the {dimension.name} is not a finite number; give one such as {dimension.example}")
    if least is not None and number < least:
        sign = "negative" if least == 0.0 else f"below {least:g} {dimension.si_unit}"
        raise ValueError(f"the {dimension.name} is {sign}; give at least {least:g} {dimension.si_unit}")
    return number


def show(value: float, dimension: Dimension, unit: str) -> float:
    """Convert an SI value to `unit` for reading back.

    Raises:
        ValueError: the unit is unknown or of another dimension.
    """
    registry = _registry()
    import pint  # noqa: PLC0415 - loaded with the registry

    try:
        wanted = dimension.aliases.get(unit, unit)
        return float(registry.Quantity(value, dimension.si_unit).to(wanted).magnitude)
    except (pint.PintError, AttributeError, ValueError) as error:
        raise ValueError(f"{unit!r} is no unit of {dimension.name}; try {dimension.si_unit}") from error


def _number(value: object, dimension: Dimension) -> float:
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        try:
            return float(value)
        except OverflowError:
            return math.inf
    if not isinstance(value, str):
        raise ValueError(f"give a number in {dimension.si_unit} or a string such as {dimension.example}")  # noqa: TRY004 - pydantic reports ValueError
    match = _QUANTITY.fullmatch(value)
    if match is None:
        raise ValueError(f"{value!r} is not a number and a unit; write it as {dimension.example}")
    if not match[2]:
        raise ValueError(f"{value!r} has no unit; write it as {dimension.example}")
    return _convert(float(match[1]), match[2], dimension)


@cache
def _convert(number: float, unit: str, dimension: Dimension) -> float:
    registry = _registry()
    import pint  # noqa: PLC0415 - loaded with the registry

    try:
        parsed = registry.Unit(dimension.aliases.get(unit, unit))
        return float(registry.Quantity(number, parsed).to(dimension.si_unit).magnitude)
    except (pint.PintError, AttributeError, ValueError, TypeError, AssertionError) as error:
        raise ValueError(f"{unit!r} is no unit of {dimension.name}; write it as {dimension.example}") from error


def _reader(dimension: Dimension, *, least: float | None = None) -> BeforeValidator:
    return BeforeValidator(lambda value: parse(value, dimension, least=least))


MassKg = Annotated[float, _reader(MASS, least=0.0)]
SignedMassKg = Annotated[float, _reader(MASS)]
LengthM = Annotated[float, _reader(LENGTH, least=0.0)]
AltitudeM = Annotated[float, _reader(LENGTH)]
VolumeM3 = Annotated[float, _reader(VOLUME, least=0.0)]
TimeS = Annotated[float, _reader(TIME, least=0.0)]
PressurePa = Annotated[float, _reader(PRESSURE, least=0.0)]
TemperatureK = Annotated[float, _reader(TEMPERATURE, least=0.0)]
FlowKgS = Annotated[float, _reader(FLOW, least=0.0)]
