"""How much a hose holds, full of liquid or of vapour: its bore's volume times a density.

A hose of 1.8 m and 4.8 mm holds some 40 g of liquid R-134a, but less than 1 g of its vapour.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fillmark.engine.setup import Hose
from fillmark.refrigerants.protocol import OutOfRangeError, Refrigerant

LIQUID_SHARE_U = 0.016
"""Relative standard uncertainty of a hose full of liquid: bore, temperature, a bubble left in it."""

VAPOUR_SHARE_U = 0.06
"""Relative standard uncertainty of a hose full of vapour: pressure along it and temperature."""

BELOW_CRITICAL_K = 10.0
"""So far below the critical temperature a liquid still has a density worth the name."""


@dataclass(frozen=True, slots=True)
class HoldUp:
    """Mass in the hose and its standard uncertainty, kg."""

    mass_kg: float
    u_kg: float


NOTHING = HoldUp(0.0, 0.0)


DISAGREE_SIGMA = 3.0


def disagree(one: HoldUp, other: HoldUp) -> bool:
    """Whether two estimates of the same mass contradict each other: by DISAGREE_SIGMA of their difference."""
    return abs(one.mass_kg - other.mass_kg) > DISAGREE_SIGMA * math.hypot(one.u_kg, other.u_kg)


def weight(one: HoldUp, beside: HoldUp) -> float:
    """Weight of an estimate in its mean with another, independent one, 0 to 1: by the inverse of the variances."""
    return beside.u_kg**2 / (one.u_kg**2 + beside.u_kg**2)


def bore_volume_m3(hose: Hose) -> float:
    """Internal volume of the hose, m³."""
    return math.pi / 4.0 * hose.bore_m**2 * hose.length_m


def liquid_hold_up(hose: Hose, refrigerant: Refrigerant, temperature_k: float | None) -> HoldUp | None:
    """A hose full of liquid at its bubble point. None where the temperature is unknown or out of range."""
    if temperature_k is None:
        return None
    try:
        mass = bore_volume_m3(hose) * refrigerant.saturated_liquid_density_kg_m3(temperature_k)
    except OutOfRangeError:
        return None
    return HoldUp(mass, LIQUID_SHARE_U * mass)


def anything(hose: Hose, refrigerant: Refrigerant) -> HoldUp | None:
    """Between nothing and liquid: all that is known where there is no saturation, as of R-744 on a hot day."""
    most = liquid_hold_up(hose, refrigerant, refrigerant.critical_temperature_k - BELOW_CRITICAL_K)
    return None if most is None else HoldUp(most.mass_kg / 2.0, most.mass_kg / math.sqrt(12.0))


def vapour_hold_up(
    hose: Hose, refrigerant: Refrigerant, temperature_k: float | None, pressure_pa: float | None
) -> HoldUp | None:
    """A hose full of vapour. Without a pressure, saturated vapour at `temperature_k` is the most it can be."""
    if temperature_k is None:
        return None
    try:
        if pressure_pa is None:
            most = bore_volume_m3(hose) * refrigerant.saturated_vapour_density_kg_m3(temperature_k)
            return HoldUp(most / 2.0, most / math.sqrt(12.0))
        mass = bore_volume_m3(hose) * refrigerant.vapour_density_kg_m3(temperature_k, max(pressure_pa, 1.0))
    except OutOfRangeError:
        return None
    return HoldUp(mass, VAPOUR_SHARE_U * mass)
