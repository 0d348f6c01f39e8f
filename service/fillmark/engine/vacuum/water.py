"""Saturation of water over liquid and over ice: whether moisture boils off at the present pressure.

* Over liquid: IAPWS R7-97(2012), Industrial Formulation 1997, region 4, equations 30 (pressure) and 31 (temperature),
  273.15 K to 647.096 K. Chosen because both directions are closed equations.
* Over ice: IAPWS R14-08(2011), sublimation pressure, equation 6, 50 K to 273.16 K. Its inverse is found by bisection.
* Between 273.15 K and the triple point ice and liquid differ by less than 0.1 %; the triple point parts the branches.

The coefficients are those of the releases; tests hold them to the releases' own check values.
"""

from __future__ import annotations

import math
from enum import StrEnum

TRIPLE_K = 273.16
TRIPLE_PA = 611.657
"""Triple point of water: IAPWS R14-08(2011), section 2."""

CRITICAL_K = 647.096
CRITICAL_PA = 22.064e6
COLDEST_K = 130.0
"""Below it sublimation is of no use here: far less than a nanopascal."""

LIQUID_N = (
    0.11670521452767e4,
    -0.72421316703206e6,
    -0.17073846940092e2,
    0.12020824702470e5,
    -0.32325550322333e7,
    0.14915108613530e2,
    -0.48232657361591e4,
    0.40511340542057e6,
    -0.23855557567849,
    0.65017534844798e3,
)
"""IAPWS R7-97(2012), Table 34."""

ICE_A = (-0.212144006e2, 0.273203819e2, -0.610598130e1)
ICE_B = (0.333333333e-2, 0.120666667e1, 0.170333333e1)
"""IAPWS R14-08(2011), Table 1 (ice Ih, sublimation)."""


class Phase(StrEnum):
    """What water boils off from at a pressure."""

    ICE = "ice"
    LIQUID = "liquid"


class WaterRangeError(ValueError):
    """A temperature or pressure outside the equations. The message says which range would do."""


def saturation_pressure_pa(temperature_k: float) -> float:
    """Pressure at which water boils, or ice sublimes, at `temperature_k` (130 to 647.096 K), Pa.

    Raises:
        WaterRangeError: outside that range.
    """
    if not COLDEST_K <= temperature_k <= CRITICAL_K:
        raise WaterRangeError(f"water at {temperature_k:.2f} K: give a temperature from 130 K to 647.096 K")
    return _over_ice_pa(temperature_k) if temperature_k < TRIPLE_K else _over_liquid_pa(temperature_k)


def saturation_temperature_k(pressure_pa: float) -> float:
    """Temperature at which water boils, or ice sublimes, at `pressure_pa`, K.

    Raises:
        WaterRangeError: below the sublimation pressure at 130 K or above the critical pressure.
    """
    if not _over_ice_pa(COLDEST_K) <= pressure_pa <= CRITICAL_PA:
        raise WaterRangeError(f"water at {pressure_pa:.3g} Pa: give an absolute pressure from 1e-9 Pa to 22.064 MPa")
    if pressure_pa >= _over_liquid_pa(TRIPLE_K):
        return _liquid_temperature_k(pressure_pa)
    low, high = COLDEST_K, TRIPLE_K
    for _ in range(60):
        middle = (low + high) / 2.0
        if _over_ice_pa(middle) < pressure_pa:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0


def phase_at(pressure_pa: float) -> Phase:
    """What the water left in a circuit at `pressure_pa` is: below the triple point it freezes before it is gone."""
    return Phase.ICE if pressure_pa < TRIPLE_PA else Phase.LIQUID


def relative_slope_per_k(temperature_k: float) -> float:
    """Relative change of the saturation pressure with temperature, 1/K: some 6 % per kelvin at 20 °C."""
    step = 0.05
    low, high = max(temperature_k - step, COLDEST_K), min(temperature_k + step, CRITICAL_K)
    return math.log(saturation_pressure_pa(high) / saturation_pressure_pa(low)) / (high - low)


def _over_ice_pa(temperature_k: float) -> float:
    theta = temperature_k / TRIPLE_K
    total = sum(a * theta**b for a, b in zip(ICE_A, ICE_B, strict=True))
    return TRIPLE_PA * math.exp(total / theta)


def _over_liquid_pa(temperature_k: float) -> float:
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = LIQUID_N
    theta = temperature_k + n9 / (temperature_k - n10)
    a = theta * theta + n1 * theta + n2
    b = n3 * theta * theta + n4 * theta + n5
    c = n6 * theta * theta + n7 * theta + n8
    return 1e6 * float((2.0 * c / (-b + math.sqrt(b * b - 4.0 * a * c))) ** 4)


def _liquid_temperature_k(pressure_pa: float) -> float:
    n1, n2, n3, n4, n5, n6, n7, n8, n9, n10 = LIQUID_N
    beta = float((pressure_pa / 1e6) ** 0.25)
    e = beta * beta + n3 * beta + n6
    f = n1 * beta * beta + n4 * beta + n7
    g = n2 * beta * beta + n5 * beta + n8
    d = 2.0 * g / (-f - math.sqrt(f * f - 4.0 * e * g))
    return (n10 + d - math.sqrt((n10 + d) ** 2 - 4.0 * (n9 + n10 * d))) / 2.0
