"""A number with its standard uncertainty, and how to say it."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number and its standard uncertainty, both in the unit that the field's name carries."""

    value: float
    u: float

    def scaled(self, factor: float) -> Quantity:
        """The same quantity in another unit."""
        return Quantity(self.value * factor, self.u * abs(factor))

    def minus(self, other: Quantity) -> Quantity:
        """The difference of two quantities that share no error."""
        return Quantity(self.value - other.value, math.hypot(self.u, other.u))


def plus_minus(value: float, expanded: float) -> str:
    """A value with its expanded uncertainty (k = 2) to two digits, and the value to the same place (GUM 7.2.6)."""
    if not expanded > 0.0 or not math.isfinite(expanded):
        return f"{value:.4g}"
    decimals = max(1 - math.floor(math.log10(expanded)), 0)
    return f"{value:.{decimals}f} ± {expanded:.{decimals}f}"


def pressure_text(pressure_pa: Quantity) -> str:
    """A pressure or a difference of pressures for people: Pa, or kPa from 2 kPa on."""
    expanded = 2.0 * pressure_pa.u
    if max(abs(pressure_pa.value), expanded) < KILO_FROM_PA:
        return f"{plus_minus(pressure_pa.value, expanded)} Pa"
    return f"{plus_minus(pressure_pa.value / 1e3, expanded / 1e3)} kPa"


KILO_FROM_PA = 2000.0


def duration_text(duration_s: float) -> str:
    """A duration for people: seconds below two minutes, hours from an hour and a half on."""
    if duration_s >= 5400.0:
        return f"{duration_s / 3600.0:.1f} h"
    return f"{duration_s / 60.0:.0f} min" if duration_s >= 120.0 else f"{duration_s:.0f} s"
