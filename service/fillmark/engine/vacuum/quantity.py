"""A number with its standard uncertainty."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number and its standard uncertainty, both in the unit that the field's name carries."""

    value: float
    u: float

    def scaled(self, factor: float) -> Quantity:
        """The same quantity in another unit."""
        return Quantity(self.value * factor, self.u * abs(factor))
