"""How much of a hose's room is vapour while liquid flows through it.

Liquid leaves the container at T. The drop at the container's valve lets it boil dT_valve lower, in proportion to the
flow, and the hose gives or takes heat on the way. The vapour's share of the mass that flows is

    x = (1 - w) [K (-dT/dt) - U L (T - T_air)] / (m' h) + c (dT_valve - w W) / h,    K = C L + m c             (1)

    C  heat capacity of the hose's wall that follows within seconds, J/mK    m  liquid in the hose, kg
    U  heat to the air, W/mK: 10 W/m²K of free convection on 12 mm           c  specific heat of the liquid, J/kgK
    L  length, m       m'  flow, kg/s       h  heat of evaporation, J/kg     w, W  see (4)

**A container that gives liquid cools**: vapour takes the room of the liquid that has left, and its evaporation draws
on the liquid, on the metal (k of the liquid there was), and on the vapour, which condenses as it gets colder and
thinner. Counted as so much liquid they are

    M = left + k full + (full - left) (b h / c - 1) / r,                                                     (2)

with r the density of liquid over that of vapour, less 1, and b the relative change of the vapour's density with T. Then

    -dT/dt = g h m' / (r c M),    drop = g h / (r c) D ln(M_warmest / M) / (M_warmest - M)                   (3)

where D has left since the container was at its warmest. The drop is what a clamp should have seen by now.
g is 1 where no heat comes in. A clamp says what it is: its drop over that of (3) as it was CLAMP_LAG_S ago. In warm
water it shows clearly less; then heat comes in with the drop, which tends to a limit, and the fall is behind its mean:
for a drop of the form 1 - exp(-x), exp(-x) is near the square of (1 - exp(-x)) / x, so g² stands in the fall, g in
the drop. Whether heat comes in is a probability, by Bayes from WARMED and the clamp; the fall is the mean of both, and
what they differ by stands in its doubt. Where nobody knows M, the mean drop of the clamp must do.

**A hose that is still cold** takes the heat first. It began W colder, at the mean of wall and first filling, and
follows with what flows through it, M_through; w is how much of its beginning it still has:

    W = (T - T_0) C L / K,    w = exp(-M_through c / K)                                                    (4)

for what comes mixes with what is in it. T_0 is the air's, or of a hose that has carried liquid before, that liquid's.

Vapour and liquid move at one speed (homogeneous flow), so x of the mass takes up x r / (1 + x r) of the room. x is a
small difference of terms known to 10 to 20 %, so it is taken as normal, cut off at nothing; the result is the mean.

Heat balances of open systems (any textbook of thermodynamics). b, C, U, k, the valve's drop, the clamp's lag and what
each is known to are judged; c is that of R-134a and R-1234yf near 25 °C, rounded, from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

WALL_J_MK = 65.0
WALL_U = 0.12
AIR_W_MK = 0.4
AIR_U = 0.15
LIQUID_J_KGK = 1400.0
VALVE_DROP_K_PER_KG_S = 55.0
VALVE_DROP_U = 0.12
COLD_U = 0.12
USED_U_K = 2.0
LEAST_FLOW_KG_S = 0.5e-3

ROUNDS = 3
"""The vapour leaves less liquid in the hose, and so less vapour: so many times round, and it stands."""

METAL_SHARE = 0.12
"""Heat capacity of a container's metal over that of its filling. Common practice, no source."""

THINNER_PER_K = 0.03
"""b: of R-134a and R-1234yf near 25 °C, rounded, from memory."""

NO_HEAT_IN_U = 0.08
"""Standard uncertainty of g = 1 while no clamp says otherwise."""

WARMED = 0.05
"""One container in twenty stands in something that warms it. Judged."""

LEAST_G = 0.05

CLAMP_LAG_S = 10.0
CLAMP_LAG_U_S = 4.0
CLAMP_U_K = 0.2
"""A clamp on a container, and how well a difference of its readings is known. Common practice, no source."""

COOLING_OVER_S = 15.0
"""A clamp tells no rate over less."""

UNKNOWN_SHARE = 0.125
UNKNOWN_SHARE_U = 0.07
"""Where nobody measures the container: from nothing to a quarter, evenly."""


@dataclass(frozen=True, slots=True)
class Source:
    """The container that gives the liquid. Temperatures K, masses kg; None: unknown.

    Attributes:
        warmest_k: the most that its clamp has shown since it began to feed the hose.
        clamp_k: what the clamp shows.
        since_s: time since it was at its warmest, s.
        clamp_age_s: age of what the clamp shows, s.
        given_kg: what has left it since then.
        left_kg: liquid that is left in it.
        full_kg: what it held when new.
        density_ratio, mean_density_ratio: r as above, as the clamp is now, and between then and now.
        evaporation_j_kg: h, between then and now.
    """

    warmest_k: float
    clamp_k: float
    since_s: float
    clamp_age_s: float
    given_kg: float
    left_kg: float | None
    full_kg: float | None
    density_ratio: float
    mean_density_ratio: float
    evaporation_j_kg: float


@dataclass(frozen=True, slots=True)
class Flowing:
    """Liquid that flows through a hose: length m, what fills it kg, flow kg/s, what has flowed through kg, air K.

    `began_k`: temperature of the hose before; None: as warm as the air. `used`: whether anything has flowed through it
    before, and may have left it colder or warmer.
    """

    length_m: float
    full_kg: float
    flow_kg_s: float
    through_kg: float
    air_k: float
    began_k: float | None = None
    used: bool = False


@dataclass(frozen=True, slots=True)
class Cooling:
    """Temperature of the container, K, and its fall, K/s, with the relative standard uncertainty of that."""

    container_k: float
    rate_k_s: float
    rate_u: float


def cooling(source: Source, flow_kg_s: float) -> Cooling:
    """How fast the container cools, by (2) and (3)."""
    seen_k = max(source.warmest_k - source.clamp_k, 0.0)
    if source.left_kg is None or source.full_kg is None or source.full_kg <= 0.0:
        return Cooling(source.clamp_k, seen_k / max(source.since_s, COOLING_OVER_S), 0.5)
    vapour = (THINNER_PER_K * source.evaporation_j_kg / LIQUID_J_KGK - 1.0) / source.mean_density_ratio
    gone = max(source.full_kg - source.left_kg, 0.0)
    draws_on = max(source.left_kg, 0.0) + METAL_SHARE * source.full_kg + vapour * gone
    latent_k = source.evaporation_j_kg / LIQUID_J_KGK
    rate = latent_k / source.density_ratio * max(flow_kg_s, 0.0) / draws_on
    less = (1.0 - vapour) * max(source.given_kg, 0.0)
    drop = latent_k / source.mean_density_ratio * math.log1p(less / draws_on) / (1.0 - vapour)
    shown = max(drop - rate * min(CLAMP_LAG_S + source.clamp_age_s, source.since_s), 0.0)
    u_seen = math.hypot(CLAMP_U_K, rate * (CLAMP_LAG_U_S + source.clamp_age_s / 2.0))
    g, u = _no_heat_in(seen_k, shown, u_seen)
    warmed = _warmed(seen_k, shown, u_seen)
    if warmed <= 0.0:
        return Cooling(source.warmest_k - g * drop, g * rate, u / g)
    h, u_h = _heated(seen_k / shown, u_seen / shown)
    fall = g + warmed * (h * h - g)
    var = (1.0 - warmed) * (u * u + (g - fall) ** 2) + warmed * (((2.0 * h + u_h) * u_h) ** 2 + (h * h - fall) ** 2)
    return Cooling(source.warmest_k - (g + warmed * (h - g)) * drop, fall * rate, math.sqrt(var) / fall)


def _warmed(seen_k: float, expected_k: float, u_k: float) -> float:
    """Probability that heat comes in, by Bayes: WARMED before the clamp was read, g then even between 0 and 1."""
    if expected_k <= 0.0:
        return 0.0
    u0 = math.hypot(u_k, NO_HEAT_IN_U * expected_k)
    none = math.exp(-(((seen_k - expected_k) / u0) ** 2) / 2.0) / (u0 * math.sqrt(2.0 * math.pi))
    heat = (_normal(seen_k / u_k) - _normal((seen_k - expected_k) / u_k)) / expected_k
    return WARMED * heat / (WARMED * heat + (1.0 - WARMED) * none) if heat > 0.0 else 0.0


def _heated(said: float, u: float) -> tuple[float, float]:
    """Find g and its standard uncertainty where heat comes in: the mean of what the clamp says and of 1/2 ± 1/√12."""
    weight = 12.0 * u * u
    return min(max((said + weight / 2.0) / (1.0 + weight), LEAST_G), 1.0), u / math.sqrt(1.0 + weight)


def _normal(z: float) -> float:
    return 0.5 * math.erfc(-z / math.sqrt(2.0))


def _no_heat_in(seen_k: float, expected_k: float, u_k: float) -> tuple[float, float]:
    """Find g and its standard uncertainty: the mean of 1 and of what the clamp says, by their weights."""
    before, said = 1.0 / (NO_HEAT_IN_U * NO_HEAT_IN_U), expected_k / (u_k * u_k)
    weight = before + said * expected_k
    return max((before + seen_k * said) / weight, LEAST_G), 1.0 / math.sqrt(weight)


def still_cold(flowing: Flowing, container_k: float) -> tuple[float, float]:
    """How much of its beginning the hose still has, w, and by how much it was colder then, W in K: (4)."""
    wall = WALL_J_MK * flowing.length_m
    capacity = wall + flowing.full_kg * LIQUID_J_KGK
    left = math.exp(-flowing.through_kg * LIQUID_J_KGK / capacity)
    began_k = flowing.air_k if flowing.began_k is None else flowing.began_k
    return left, (container_k - began_k) * wall / capacity


def vapour_share(flowing: Flowing, source: Source) -> tuple[float, float]:
    """Share of the hose's room that is vapour, 0 to 1, and its standard uncertainty: (1)."""
    flow = max(flowing.flow_kg_s, LEAST_FLOW_KG_S)
    cools = cooling(source, flow)
    share, u = 0.0, 0.0
    for _ in range(ROUNDS):
        x, u_x = _quality(flowing, cools, source.evaporation_j_kg, flow, flowing.full_kg * (1.0 - share))
        room = 1.0 + x * source.density_ratio
        share, u = x * source.density_ratio / room, source.density_ratio / (room * room) * u_x
    return share, u


def _quality(
    flowing: Flowing, cools: Cooling, evaporation_j_kg: float, flow_kg_s: float, liquid_kg: float
) -> tuple[float, float]:
    """Vapour's share of the mass, x, and its standard uncertainty, with so much liquid in the hose: (1)."""
    heat, per_kelvin = flow_kg_s * evaporation_j_kg, LIQUID_J_KGK / evaporation_j_kg
    wall, inside = WALL_J_MK * flowing.length_m, liquid_kg * LIQUID_J_KGK
    cold, began_colder_k = still_cold(flowing, cools.container_k)
    stored = (1.0 - cold) * (wall + inside) * cools.rate_k_s / heat
    stored_u = stored * math.hypot(cools.rate_u, WALL_U * wall / (wall + inside))
    lost = (1.0 - cold) * AIR_W_MK * flowing.length_m * (cools.container_k - flowing.air_k) / heat
    dropped, missing = VALVE_DROP_K_PER_KG_S * flow_kg_s * per_kelvin, cold * began_colder_k * per_kelvin
    u_began_k = USED_U_K * wall / (wall + inside) if flowing.used else 0.0
    u_missing = math.hypot(COLD_U * missing, cold * u_began_k * per_kelvin)
    u = math.hypot(stored_u, AIR_U * lost, VALVE_DROP_U * dropped, u_missing)
    return cut_off(stored - lost + dropped - missing, u)


def cut_off(mean: float, u: float) -> tuple[float, float]:
    """Mean and standard deviation of the larger of nothing and a normal variable."""
    if u <= 0.0:
        return max(mean, 0.0), 0.0
    z = mean / u
    density = math.exp(-z * z / 2.0) / math.sqrt(2.0 * math.pi)
    above = _normal(z)
    cut = mean * above + u * density
    square = (mean * mean + u * u) * above + mean * u * density
    return cut, math.sqrt(max(square - cut * cut, 0.0))
