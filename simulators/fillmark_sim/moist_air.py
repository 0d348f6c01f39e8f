"""Moist air for the simulated evaporator, by the Magnus form with the coefficients of Alduchov and Eskridge (1996).

J. Appl. Meteorol. 35, 601, over water, from memory; good to 0.4 % between −40 and 50 °C. The service uses other
equations on purpose. Temperatures in °C, enthalpy in J a kg of dry air, at sea level.
"""

from __future__ import annotations

import math

SEA_LEVEL_PA = 101325.0
CP_AIR = 1006.0
CP_STEAM = 1860.0
LATENT = 2.501e6


def saturated_ratio(temperature_c: float) -> float:
    """Water a kg of dry air, saturated."""
    vapour = 610.94 * math.exp(17.625 * temperature_c / (temperature_c + 243.04))
    return 0.622 * vapour / (SEA_LEVEL_PA - vapour)


def ratio(temperature_c: float, relative_humidity: float) -> float:
    """Water a kg of dry air at a relative humidity of 0 to 1."""
    vapour = relative_humidity * 610.94 * math.exp(17.625 * temperature_c / (temperature_c + 243.04))
    return 0.622 * vapour / (SEA_LEVEL_PA - vapour)


def enthalpy(temperature_c: float, water: float) -> float:
    """Enthalpy of moist air."""
    return CP_AIR * temperature_c + water * (LATENT + CP_STEAM * temperature_c)


def saturated_enthalpy(temperature_c: float) -> float:
    """Enthalpy of saturated air, as it clings to a wet fin."""
    return enthalpy(temperature_c, saturated_ratio(temperature_c))
