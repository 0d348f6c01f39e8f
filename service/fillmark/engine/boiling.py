"""How much of a hose's room is vapour while liquid flows through it.

Liquid leaves the container at its boiling point T. On its way it gains or loses heat, and the drop at the container's
valve lets it boil at a little less; the vapour's share of the mass is

    x = [(C L + m c)(-dT/dt) - U L (T - T_air)] / (m' h) + c dT_valve / h

    C  heat capacity of the hose's wall that follows within seconds, J/mK    m  liquid in the hose, kg
    U  heat to the air, W/mK: 10 W/m²K of free convection on 12 mm           c  specific heat of the liquid, J/kgK
    L  length, m       m'  flow, kg/s                                        h  heat of evaporation, J/kg

A container that empties boils, and cools; the wall and the liquid under way are as warm as it was a moment ago: that
makes vapour. Air that is colder than the container takes it away again, so that a slow filling stays liquid. Vapour and
liquid move at one speed (homogeneous flow), so x of the mass takes up

    share = x r / (1 + x r),    r = density of liquid over that of vapour, less 1: 20 to 50

of the room. x is a small difference of terms known to 40 %, so it is taken as normal, cut off at nothing; the result
is the mean of that. Heat balance of an open system (any textbook of thermodynamics); C, U, the valve's drop and the
40 % are judged; c and h are those of R-134a and R-1234yf near 25 °C, rounded, from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

WALL_J_MK = 80.0
AIR_W_MK = 0.4
LIQUID_J_KGK = 1400.0
EVAPORATION_J_KG = 175e3
VALVE_DROP_K = 0.5
TERMS_U = 0.4
LEAST_FLOW_KG_S = 0.5e-3

UNKNOWN_SHARE = 0.10
UNKNOWN_SHARE_U = 0.08
"""Where nobody measures the container: from nothing to a quarter, about."""


@dataclass(frozen=True, slots=True)
class Flowing:
    """Liquid that flows through a hose; `density_ratio` is r as above."""

    length_m: float
    liquid_kg: float
    flow_kg_s: float
    container_k: float
    air_k: float
    cooling_k_s: float
    density_ratio: float


def vapour_share(flowing: Flowing) -> tuple[float, float]:
    """Share of the hose's room that is vapour, 0 to 1, and its standard uncertainty."""
    heat = max(flowing.flow_kg_s, LEAST_FLOW_KG_S) * EVAPORATION_J_KG
    stored = (WALL_J_MK * flowing.length_m + flowing.liquid_kg * LIQUID_J_KGK) * max(flowing.cooling_k_s, 0.0) / heat
    lost = AIR_W_MK * flowing.length_m * (flowing.container_k - flowing.air_k) / heat
    dropped = VALVE_DROP_K * LIQUID_J_KGK / EVAPORATION_J_KG
    x, u = _cut_off(stored - lost + dropped, TERMS_U * math.hypot(stored, lost, dropped))
    room = 1.0 + x * flowing.density_ratio
    return x * flowing.density_ratio / room, flowing.density_ratio / (room * room) * u


def _cut_off(mean: float, u: float) -> tuple[float, float]:
    """Mean and standard deviation of the larger of nothing and a normal variable."""
    if u <= 0.0:
        return max(mean, 0.0), 0.0
    z = mean / u
    density = math.exp(-z * z / 2.0) / math.sqrt(2.0 * math.pi)
    above = 0.5 * math.erfc(-z / math.sqrt(2.0))
    cut = mean * above + u * density
    square = (mean * mean + u * u) * above + mean * u * density
    return cut, math.sqrt(max(square - cut * cut, 0.0))
