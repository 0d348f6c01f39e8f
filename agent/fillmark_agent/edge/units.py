"""Units of a channel: from any unit of the right kind to the one inside, as a straight line."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from fillmark.wire import channels, quantities

ICE_POINT_K = 273.15
_FAR = 1000.0


@dataclass(frozen=True, slots=True)
class Line:
    """inside = factor · value + offset."""

    factor: float = 1.0
    offset: float = 0.0

    def at(self, value: float) -> float:
        """The value inside."""
        return value * self.factor + self.offset


_DIMENSIONS = {
    "mass": (quantities.MASS, 0.0),
    "pressure": (quantities.PRESSURE, 0.0),
    "temperature": (quantities.TEMPERATURE, -ICE_POINT_K),
}


@lru_cache(maxsize=256)
def to_inside(unit: str, quantity: str) -> Line:
    """The line from `unit` to the unit inside of a quantity: kg, Pa, Cel, %RH.

    Raises:
        ValueError: the unit is of another kind, or a mark of gauge pressure; the text says what would do.
    """
    kind = channels.QUANTITIES[quantity]
    if unit == kind.unit or (quantity == "humidity" and unit == "%"):
        return Line()
    if unit in kind.factors:
        return Line(*kind.factors[unit])
    if quantity not in _DIMENSIONS:
        raise ValueError(f"{unit!r} is no unit of {quantity}; give {kind.unit}")
    dimension, shift = _DIMENSIONS[quantity]
    try:
        zero, far = (quantities.parse(f"{at:g} {unit}", dimension) for at in (0.0, _FAR))
    except quantities.GaugePressureError as error:
        raise ValueError(f'{unit!r} is a gauge pressure; name the unit alone and set reference = "gauge"') from error
    return Line((far - zero) / _FAR, zero + shift)
