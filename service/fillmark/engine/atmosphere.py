"""The barometer: measured, declared, from altitude, or unknown."""

from __future__ import annotations

from dataclasses import dataclass

STANDARD_PA = 101325.0


@dataclass(frozen=True, slots=True)
class Barometer:
    """Atmospheric pressure in Pa and where it comes from. Only "measured" and "declared" are not estimates."""

    pressure_pa: float
    source: str

    @property
    def estimated(self) -> bool:
        """Whether it was not read from an instrument."""
        return self.source in {"altitude", "sea level assumed"}


def standard_pressure_pa(altitude_m: float) -> float:
    """Pressure of the standard atmosphere, Pa.

    ISO 2533:1975, equation for the troposphere with a lapse of 6.5 K/km, `altitude_m` geopotential, -2000 to 11000 m.
    """
    altitude = min(max(altitude_m, -2000.0), 11000.0)
    return STANDARD_PA * float((1.0 - 6.5e-3 * altitude / 288.15) ** 5.255880)


def barometer(measured_pa: float | None, declared_pa: float | None, altitude_m: float | None) -> Barometer:
    """The best atmospheric pressure at hand."""
    if measured_pa is not None:
        return Barometer(measured_pa, "measured")
    if declared_pa is not None:
        return Barometer(declared_pa, "declared")
    if altitude_m is not None:
        return Barometer(standard_pressure_pa(altitude_m), "altitude")
    return Barometer(STANDARD_PA, "sea level assumed")
