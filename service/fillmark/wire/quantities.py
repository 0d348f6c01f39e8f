"""Quantities of the API: a number in the SI unit that the field names, or a string such as "1.15 lb".

pint holds the units; number and unit of a string must match our own patterns first, because pint evaluates
expressions. Factors follow NIST SP 811 (2008) appendix B; the conventional inch of mercury is 3386.389 Pa there.
Pressures are absolute: the marks of gauge pressure ("psig", "barg") are known and refused, never read as absolute.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Annotated

from pydantic import BeforeValidator

if TYPE_CHECKING:
    import pint

LONGEST = 64
"""Characters of a quantity written as a string."""

_QUANTITY = re.compile(r"([+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]{1,3})?)\s*([^\d\s.,+\-].*)?")
_POWER = r"[A-Za-zµμ]+(?:(?:\*\*|\^)?[23]|[²³])?"
_UNIT = re.compile(rf"{_POWER}(?:/{_POWER})?")
_EXPONENT = re.compile(r"(?:\*\*|\^)?([23])")
_GAUGE = re.compile(
    r"(?:psi|m?bar|[kmh]?pa|kgf?/cm[2²]|atm|inhg|mmhg)[\s_]*\(?(?:g|gauge|vac|vacuum)\)?|atü", re.IGNORECASE
)  # fmt: skip


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
TIME = Dimension("time", "s", '"1.5 s"', {"sec": "second", "secs": "second"})
PRESSURE = Dimension(
    "pressure",
    "Pa",
    '"28 bar"',
    {
        "micron": "micron_of_mercury",
        "microns": "micron_of_mercury",
        "Torr": "torr",
        "mTorr": "mtorr",
        "PSI": "psi",
        "psia": "psi",
        "bara": "bar",
        "bar(a)": "bar",
        "psi(a)": "psi",
    },
)
TEMPERATURE = Dimension(
    "temperature", "K", '"25 °C"',
    {"°C": "degC", "C": "degC", "Cel": "degC", "°F": "degF", "F": "degF", "K": "kelvin"},
)  # fmt: skip
FLOW = Dimension("mass flow", "kg/s", '"2 g/s"', {})
LINEAR_MASS = Dimension("mass a length", "kg/m", '"20 g/m"', {})
VOLUME_FLOW = Dimension("volume flow", "m**3/s", '"70 L/min"', {})


@cache
def _registry() -> pint.UnitRegistry[float]:
    import pint  # noqa: PLC0415 - a third of a second, only where a string is met

    registry: pint.UnitRegistry[float] = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    registry.define("micron_of_mercury = 1e-3 * mmHg")
    return registry


def parse(value: object, dimension: Dimension, *, least: float | None = None, most: float | None = None) -> float:
    """Read a quantity into its SI unit.

    Args:
        value: a finite number, or a string of a number and a unit.
        dimension: what it must be.
        least: smallest allowed value in the SI unit.
        most: largest allowed value in the SI unit.

    Raises:
        ValueError: with a sentence that says what would do.
    """
    number = _number(value, dimension)
    if not math.isfinite(number):
        raise ValueError(f"the {dimension.name} is not a finite number; give one such as {dimension.example}")
    if least is not None and number < least:
        sign = "negative" if least == 0.0 else f"below {least:g} {dimension.si_unit}"
        raise ValueError(f"the {dimension.name} is {sign}; give at least {least:g} {dimension.si_unit}")
    if most is not None and number > most:
        raise ValueError(
            f"the {dimension.name} is {number:g} {dimension.si_unit}; give at most {most:g} {dimension.si_unit}"
        )
    return number


def show(value: float, dimension: Dimension, unit: str) -> float:
    """Convert an SI value to `unit` for reading back.

    Raises:
        ValueError: the unit is unknown or of another dimension.
    """
    registry = _registry()
    import pint  # noqa: PLC0415 - loaded with the registry

    try:
        return float(registry.Quantity(value, dimension.si_unit).to(_pint_unit(unit, dimension)).magnitude)
    except (pint.PintError, AttributeError, ValueError, TypeError, AssertionError) as error:
        shown = unit if len(unit) <= LONGEST else unit[:LONGEST] + "…"
        raise ValueError(f"{shown!r} is no unit of {dimension.name}; try {dimension.si_unit}") from error


def _number(value: object, dimension: Dimension) -> float:
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        try:
            return float(value)
        except OverflowError:
            return math.inf
    if not isinstance(value, str):
        raise ValueError(f"it is no {dimension.name}; write it as {dimension.example}")  # noqa: TRY004 - pydantic reports ValueError
    text = value.strip()
    if len(text) > LONGEST:
        raise ValueError(f"the {dimension.name} has more than {LONGEST} characters; write it as {dimension.example}")
    match = _QUANTITY.fullmatch(text)
    if match is None:
        raise ValueError(f"{text!r} is not a number and a unit; write it as {dimension.example}")
    if not match[2]:
        raise ValueError(f"{text!r} has no unit; write it as {dimension.example}")
    return _convert(float(match[1]), match[2], dimension)


def _pint_unit(unit: str, dimension: Dimension) -> str:
    """What pint calls the unit. Anything that is not plainly one unit, or one by another, is refused."""
    if dimension is PRESSURE and _GAUGE.fullmatch(unit):
        raise GaugePressureError(unit)
    known = dimension.aliases.get(unit)
    if known is None and (len(unit) > LONGEST or not _UNIT.fullmatch(unit)):
        raise ValueError(unit)
    return known or _EXPONENT.sub(r"**\1", unit)


class GaugePressureError(ValueError):
    """A gauge pressure where an absolute one is needed."""

    def __init__(self, unit: str) -> None:
        super().__init__(
            f"{unit!r} is a gauge pressure, counted from the pressure of the air; add the barometric pressure "
            '(1.013 bar at sea level) and write the absolute pressure, as "28 bar"'
        )


@lru_cache(maxsize=1024)
def _convert(number: float, unit: str, dimension: Dimension) -> float:
    registry = _registry()
    import pint  # noqa: PLC0415 - loaded with the registry

    try:
        parsed = registry.Unit(_pint_unit(unit, dimension))
        return float(registry.Quantity(number, parsed).to(dimension.si_unit).magnitude)
    except GaugePressureError:
        raise
    except (pint.PintError, AttributeError, ValueError, TypeError, AssertionError) as error:
        raise ValueError(f"{unit!r} is no unit of {dimension.name}; write it as {dimension.example}") from error


def _reader(dimension: Dimension, least: float | None = None, most: float | None = None) -> BeforeValidator:
    return BeforeValidator(lambda value: parse(value, dimension, least=least, most=most))


MassKg = Annotated[float, _reader(MASS, 0.0, 2000.0)]
SignedMassKg = Annotated[float, _reader(MASS, -2000.0, 2000.0)]
LengthM = Annotated[float, _reader(LENGTH, 0.0, 1000.0)]
AltitudeM = Annotated[float, _reader(LENGTH, -500.0, 9000.0)]
VolumeM3 = Annotated[float, _reader(VOLUME, 0.0, 10.0)]
TimeS = Annotated[float, _reader(TIME, 0.0, 86400.0)]
PressurePa = Annotated[float, _reader(PRESSURE, 0.0, 100e6)]
BarometerPa = Annotated[float, _reader(PRESSURE, 30e3, 110e3)]
TemperatureK = Annotated[float, _reader(TEMPERATURE, 0.0, 1000.0)]
FlowKgS = Annotated[float, _reader(FLOW, 0.0)]
LinearMassKgM = Annotated[float, _reader(LINEAR_MASS, least=0.0)]
VolumeFlowM3S = Annotated[float, _reader(VOLUME_FLOW, least=0.0)]
