"""What the probes leave open, and how a result is told."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

ZERO_CELSIUS_K = 273.15


@dataclass(frozen=True, slots=True)
class Probes:
    """Standard uncertainties of the probes (k = 1).

    The defaults are what a set of workshop probes is good for; common practice, no source. Give the maker's figures
    where they are known.

    Attributes:
        pressure_pa: fixed part of a pressure probe, with the barometer's doubt where pressures are gauge.
        pressure_share: the part that grows with the reading.
        clamp_k: a clamp on a pipe, with the drop from refrigerant through wall to clamp.
        air_k: an air probe.
        humidity: relative humidity, as a fraction of 1.
    """

    pressure_pa: float = 3e3
    pressure_share: float = 0.005
    clamp_k: float = 1.0
    air_k: float = 0.7
    humidity: float = 0.04

    def pressure_u_pa(self, pressure_abs_pa: float) -> float:
        """Standard uncertainty of a pressure reading, Pa."""
        return math.hypot(self.pressure_pa, self.pressure_share * pressure_abs_pa)


def spread(function: Callable[[float], float], at: float, u: float) -> float:
    """What an uncertainty `u` of the argument makes of the result: GUM 5.1.3, slope from a central difference.

    Raises what `function` raises at both ends.
    """
    step = max(abs(at) * 1e-4, 1e-9)
    return abs(function(at + step) - function(at - step)) / (2.0 * step) * u


def celsius(temperature_k: float) -> str:
    """A temperature as text, for example "60.0 °C"."""
    return f"{temperature_k - ZERO_CELSIUS_K:.1f} °C"


def bar(pressure_abs_pa: float) -> str:
    """An absolute pressure as text, for example "17.2 bar"."""
    return f"{pressure_abs_pa / 1e5:.2f} bar" if pressure_abs_pa < 1e6 else f"{pressure_abs_pa / 1e5:.1f} bar"
