"""Water at the coldest spot of an evacuated circuit: it boils, cools itself, freezes, and sublimes.

Saturation pressures: Murphy & Koop, Q. J. R. Meteorol. Soc. 131 (2005) 1539, equations 7 (ice, above 110 K) and 10
(liquid, 123 to 332 K), from memory; the tests hold them to printed tables. Heats of water and ice are the handbook's:
2501 kJ/kg of evaporation and 333.5 kJ/kg of fusion at the ice point, 4.19, 2.05 and 1.87 kJ/kgK (liquid, ice, vapour).
"""

from __future__ import annotations

import math
from typing import NamedTuple

TRIPLE_K = 273.16
WATER_KG_PER_MOL = 0.01801528
GAS_J_PER_MOLK = 8.314462618
WATER_J_PER_KGK = GAS_J_PER_MOLK / WATER_KG_PER_MOL
EVAPORATION_J_PER_KG = 2.501e6
FUSION_J_PER_KG = 3.335e5
LIQUID_J_PER_KGK = 4190.0
ICE_J_PER_KGK = 2050.0
VAPOUR_J_PER_KGK = 1870.0


def ice_pa(temperature_k: float) -> float:
    """Pressure (Pa) of vapour over ice, 110 K to the triple point."""
    t = temperature_k
    return math.exp(9.550426 - 5723.265 / t + 3.53068 * math.log(t) - 0.00728332 * t)


def liquid_pa(temperature_k: float) -> float:
    """Pressure (Pa) of vapour over liquid water, 123 to 332 K."""
    t = temperature_k
    log_t = math.log(t)
    bend = 53.878 - 1331.22 / t - 9.44523 * log_t + 0.014025 * t
    return math.exp(54.842763 - 6763.22 / t - 4.210 * log_t + 0.000367 * t + math.tanh(0.0415 * (t - 218.8)) * bend)


def saturation_pa(temperature_k: float) -> float:
    """Pressure (Pa) of vapour over water or, below the triple point, ice."""
    return liquid_pa(temperature_k) if temperature_k >= TRIPLE_K else ice_pa(temperature_k)


class Source(NamedTuple):
    """Vapour given off in a step, kg: `free_kg - per_pa * p` at the pressure p (Pa) at the end of the step."""

    free_kg: float
    per_pa: float


class WetSpot:
    """Water or ice and the wall under it at one temperature.

    Energy is the state (zero: liquid at the triple point), so freezing takes as long as its heat takes to leave.

    Args:
        mass_kg: water at the start.
        temperature_k: at the start.
        wall_j_per_k: heat capacity of the wall that cools with it.
        ua_w_per_k: heat passed from the surroundings.
        speed_m3_s: volume of saturated vapour it can give off per second while its surface is as at the start; it
            shrinks with mass^(2/3).
    """

    def __init__(
        self, mass_kg: float, temperature_k: float, *, wall_j_per_k: float, ua_w_per_k: float, speed_m3_s: float
    ) -> None:
        self.mass_kg = mass_kg
        self._whole_kg = max(mass_kg, 1e-9)
        self._wall = wall_j_per_k
        self._ua = ua_w_per_k
        self._speed = speed_m3_s
        above = temperature_k - TRIPLE_K
        if above >= 0.0:
            self._energy_j = (mass_kg * LIQUID_J_PER_KGK + wall_j_per_k) * above
        else:
            self._energy_j = (mass_kg * ICE_J_PER_KGK + wall_j_per_k) * above - mass_kg * FUSION_J_PER_KG

    @property
    def energy_j(self) -> float:
        """Energy of water and wall, counted from liquid at the triple point."""
        return self._energy_j

    @property
    def temperature_k(self) -> float:
        """Temperature of water and wall."""
        frozen_j = self.mass_kg * FUSION_J_PER_KG
        if self._energy_j >= 0.0:
            return TRIPLE_K + self._energy_j / (self.mass_kg * LIQUID_J_PER_KGK + self._wall)
        if self._energy_j >= -frozen_j:
            return TRIPLE_K
        return TRIPLE_K + (self._energy_j + frozen_j) / (self.mass_kg * ICE_J_PER_KGK + self._wall)

    @property
    def ice_kg(self) -> float:
        """How much of it is frozen."""
        return min(self.mass_kg, max(0.0, -self._energy_j / FUSION_J_PER_KG))

    def offer(self, dt_s: float, gas_k: float, surroundings_k: float) -> Source:
        """What it would give off in a step, its own cooling included (linearised, implicit)."""
        t = self.temperature_k
        per_pa_s = self._speed * (self.mass_kg / self._whole_kg) ** (2.0 / 3.0) / (WATER_J_PER_KGK * gas_k)
        if self.mass_kg <= 0.0:
            return Source(0.0, 0.0)
        p = saturation_pa(t)
        melting = t == TRIPLE_K
        latent = EVAPORATION_J_PER_KG + (0.0 if t >= TRIPLE_K else FUSION_J_PER_KG)
        slope = 0.0 if melting else p * latent / (WATER_J_PER_KGK * t * t)
        heat_c = LIQUID_J_PER_KGK if t >= TRIPLE_K else ICE_J_PER_KGK
        inertia = self.mass_kg * heat_c + self._wall + dt_s * (self._ua + latent * per_pa_s * slope)
        warmed = dt_s * self._ua * (surroundings_k - t)
        fixed = slope * (warmed - dt_s * latent * per_pa_s * p) / inertia
        answer = slope * dt_s * latent * per_pa_s / inertia
        return Source(dt_s * per_pa_s * (p + fixed), dt_s * per_pa_s * (1.0 - answer))

    def give(self, dt_s: float, mass_kg: float, surroundings_k: float) -> None:
        """Give off vapour (kg; negative: take it in) and take heat from the surroundings for one step."""
        t = self.temperature_k
        self._energy_j -= mass_kg * (EVAPORATION_J_PER_KG + VAPOUR_J_PER_KGK * (t - TRIPLE_K))
        self.mass_kg -= mass_kg
        passed = dt_s * self._ua
        if t != TRIPLE_K:
            capacity = self.mass_kg * (ICE_J_PER_KGK if t < TRIPLE_K else LIQUID_J_PER_KGK) + self._wall
            passed = -math.expm1(-passed / capacity) * capacity
        self._energy_j += passed * (surroundings_k - self.temperature_k)
