"""What a liquid and its saturated vapour differ by, of any refrigerant."""

from __future__ import annotations

from fillmark.refrigerants.protocol import Refrigerant

HALF_K = 0.5


def density_ratio(refrigerant: Refrigerant, temperature_k: float) -> float:
    """Density of liquid over that of its vapour, less 1.

    Raises:
        OutOfRangeError: there is no saturation.
    """
    liquid = refrigerant.saturated_liquid_density_kg_m3(temperature_k)
    return liquid / refrigerant.saturated_vapour_density_kg_m3(temperature_k) - 1.0


def evaporation_j_kg(refrigerant: Refrigerant, temperature_k: float) -> float:
    """Heat of evaporation, J/kg, by Clausius and Clapeyron (any textbook of thermodynamics).

        h = T dp/dT (1/ρ_vapour - 1/ρ_liquid)

    Of a zeotropic blend, whose bubble and dew points lie apart, it is some percent off.

    Raises:
        OutOfRangeError: there is no saturation.
    """
    rise_pa = refrigerant.bubble_pressure_pa(temperature_k + HALF_K) - refrigerant.bubble_pressure_pa(
        temperature_k - HALF_K
    )
    vapour_m3_kg = 1.0 / refrigerant.saturated_vapour_density_kg_m3(temperature_k)
    liquid_m3_kg = 1.0 / refrigerant.saturated_liquid_density_kg_m3(temperature_k)
    return temperature_k * rise_pa / (2.0 * HALF_K) * (vapour_m3_kg - liquid_m3_kg)
