"""Moist air: humidity ratio, dew point, wet bulb, enthalpy, and the sensible and latent part of cooling it.

Equations of ASHRAE Handbook—Fundamentals (2017), chapter 1, with the saturation pressure of Hyland and Wexler (1983);
coefficients from memory, held by tests to the handbook's printed values. They are written out here instead of asked
from a property library because the engine has no library, and because they are enough: an ideal mixture leaves out the
enhancement factor, which makes the saturated humidity ratio 0.4 to 0.6 % low. A humidity probe is good for 3 to 5 %.

Range: −100 to 200 °C while water does not boil at the given pressure. Temperatures K, pressures Pa, humidity ratio kg
of water a kg of dry air, enthalpy J a kg of dry air (zero: dry air and liquid water at 0 °C).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from fillmark.engine.performance.values import ZERO_CELSIUS_K

COLDEST_K = 173.15
HOTTEST_K = 473.15
TRIPLE_POINT_K = 273.16
MOLAR_RATIO = 0.621945
"""Molar mass of water over that of dry air (ASHRAE Fundamentals 2017, chapter 1, equation 20)."""
DRIEST_PA = 1.1
"""Saturation pressure at −60 °C: no dew point is told below it."""

_ICE = (-5.6745359e3, 6.3925247, -9.6778430e-3, 6.2215701e-7, 2.0747825e-9, -9.4840240e-13, 4.1635019)
_WATER = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0, 6.5459673)


class AirError(ValueError):
    """A state of air that these equations do not know, for example boiling at the given pressure."""


def saturation_pressure_pa(temperature_k: float) -> float:
    """Vapour pressure of water, or of ice below the triple point, Pa. Equations 5 and 6. Raises `AirError`."""
    if not COLDEST_K <= temperature_k <= HOTTEST_K:
        raise AirError(f"Moist air is known from -100 to 200 °C, not at {temperature_k - ZERO_CELSIUS_K:.1f} °C.")
    c = _ICE if temperature_k < TRIPLE_POINT_K else _WATER
    t = temperature_k
    polynomial = c[1] + t * (c[2] + t * (c[3] + t * (c[4] + t * c[5])))
    return math.exp(c[0] / t + polynomial + c[6] * math.log(t))


def humidity_ratio(temperature_k: float, relative_humidity: float, pressure_pa: float) -> float:
    """Water a kg of dry air. Equation 20. `relative_humidity` 0 to 1. Raises `AirError`."""
    if not 0.0 <= relative_humidity <= 1.0:
        raise AirError(f"A relative humidity of {relative_humidity:g} is not possible: give 0 to 1.")
    return _ratio(relative_humidity * saturation_pressure_pa(temperature_k), pressure_pa)


def vapour_pressure_pa(ratio: float, pressure_pa: float) -> float:
    """Partial pressure of the water vapour, Pa."""
    return pressure_pa * ratio / (MOLAR_RATIO + ratio)


def dew_point_k(ratio: float, pressure_pa: float) -> float | None:
    """Temperature at which water (or frost) begins to form, K. None: so dry that it lies below −60 °C."""
    vapour = vapour_pressure_pa(ratio, pressure_pa)
    if vapour < DRIEST_PA:
        return None
    return _root(lambda t: saturation_pressure_pa(t) - vapour, COLDEST_K, HOTTEST_K)


def enthalpy_j_kg(temperature_k: float, ratio: float) -> float:
    """Enthalpy of moist air. Equation 30."""
    t = temperature_k - ZERO_CELSIUS_K
    return 1e3 * (1.006 * t + ratio * (2501.0 + 1.86 * t))


def wet_bulb_k(temperature_k: float, ratio: float, pressure_pa: float) -> float:
    """Thermodynamic wet-bulb temperature, K. Equations 33 (water) and 35 (ice). Raises `AirError`."""
    return _root(lambda wet: _adiabatic_ratio(temperature_k, wet, pressure_pa) - ratio, COLDEST_K, temperature_k)


def saturated_enthalpy_j_kg(temperature_k: float, pressure_pa: float) -> float:
    """Enthalpy of saturated air, as it clings to a wet surface. Raises `AirError`."""
    return enthalpy_j_kg(temperature_k, _ratio(saturation_pressure_pa(temperature_k), pressure_pa))


@dataclass(frozen=True, slots=True)
class Load:
    """Heat taken out of the air, J a kg of dry air, and the water that ran off, kg a kg of dry air."""

    total_j_kg: float
    sensible_j_kg: float
    latent_j_kg: float
    water: float

    @property
    def sensible_share(self) -> float | None:
        """Sensible over total. None: nothing was taken out."""
        return self.sensible_j_kg / self.total_j_kg if self.total_j_kg > 0.0 else None


def load(entering_k: float, entering_ratio: float, leaving_k: float, leaving_ratio: float) -> Load:
    """What cooling air from one state to another takes. Sensible: at the entering humidity ratio."""
    total = enthalpy_j_kg(entering_k, entering_ratio) - enthalpy_j_kg(leaving_k, leaving_ratio)
    sensible = enthalpy_j_kg(entering_k, entering_ratio) - enthalpy_j_kg(leaving_k, entering_ratio)
    return Load(total, sensible, total - sensible, entering_ratio - leaving_ratio)


def _ratio(vapour_pa: float, pressure_pa: float) -> float:
    if vapour_pa >= pressure_pa:
        raise AirError("Water boils at this temperature and pressure: no air is left.")
    return MOLAR_RATIO * vapour_pa / (pressure_pa - vapour_pa)


def _adiabatic_ratio(dry_k: float, wet_k: float, pressure_pa: float) -> float:
    dry, wet = dry_k - ZERO_CELSIUS_K, wet_k - ZERO_CELSIUS_K
    saturated = _ratio(saturation_pressure_pa(wet_k), pressure_pa)
    if wet_k >= TRIPLE_POINT_K:
        return ((2501.0 - 2.326 * wet) * saturated - 1.006 * (dry - wet)) / (2501.0 + 1.86 * dry - 4.186 * wet)
    return ((2830.0 - 0.24 * wet) * saturated - 1.006 * (dry - wet)) / (2830.0 + 1.86 * dry - 2.1 * wet)


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    """Where a rising function crosses zero: halving, to the last bit that matters."""
    for _ in range(50):
        middle = 0.5 * (low + high)
        if function(middle) < 0.0:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
