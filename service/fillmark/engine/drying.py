"""How much liquid is left in a hose that a running circuit pulls dry, its container being shut.

Liquid and wall are warmer than the liquid boils at under the circuit's pressure, T_s. They cool down to that as fast as
the port lets vapour through, some FLASH_KG_S, and what they give up boils

    flashed = K (T_hose - T_s) / h,    K = C L + m c

of it. The rest waits for heat from the air: it boils at

    rate = U L (T_air - T_s) / h

some 0.1 g/s. Letters and sources as in `boiling.py`; FLASH_KG_S is for a port of 1.3 mm (common practice, no
source). What has boiled is known to BOILED_U; of what is left, less than nothing counts as nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fillmark.engine.boiling import AIR_W_MK, LIQUID_J_KGK, WALL_J_MK, cut_off

FLASH_KG_S = 3.5e-3
FLASHED_U = 0.25
BOILED_U = 0.3

UNKNOWN_FLASH_S = 10.0
UNKNOWN_SHARE = 0.33
UNKNOWN_S = 100.0
UNKNOWN_U = 0.5
"""Where temperatures or pressure are unknown: so much waits for the air's heat, and boils within some UNKNOWN_S."""


@dataclass(frozen=True, slots=True)
class Wet:
    """A hose with liquid in it: length m, liquid and its uncertainty kg; temperatures of hose, air and boiling K, h.

    None: unknown.
    """

    length_m: float
    liquid_kg: float
    liquid_u_kg: float
    hose_k: float | None
    air_k: float | None
    boils_at_k: float | None
    evaporation_j_kg: float | None


def left_wet(wet: Wet, pulled_s: float) -> tuple[float, float]:
    """Liquid that is left after `pulled_s` seconds, and its standard uncertainty, kg."""
    if wet.air_k is None or wet.boils_at_k is None or wet.evaporation_j_kg is None:
        fast = wet.liquid_kg * (1.0 - UNKNOWN_SHARE) * math.exp(-pulled_s / UNKNOWN_FLASH_S)
        slow = wet.liquid_kg * UNKNOWN_SHARE * math.exp(-pulled_s / UNKNOWN_S)
        return fast + slow, math.hypot(wet.liquid_u_kg, fast / math.sqrt(12.0), UNKNOWN_U * slow)
    hose_k = wet.air_k if wet.hose_k is None else wet.hose_k
    capacity = WALL_J_MK * wet.length_m + LIQUID_J_KGK * wet.liquid_kg
    flash = min(max(capacity * (hose_k - wet.boils_at_k) / wet.evaporation_j_kg, 0.0), wet.liquid_kg)
    waiting = flash * math.exp(-pulled_s * FLASH_KG_S / flash) if flash > 0.0 else 0.0
    flashed = flash - waiting
    boiled = max(AIR_W_MK * wet.length_m * (wet.air_k - wet.boils_at_k) / wet.evaporation_j_kg, 0.0) * pulled_s
    u = math.hypot(
        wet.liquid_u_kg,
        min(waiting, flashed) / math.sqrt(3.0),
        FLASHED_U * flashed,
        BOILED_U * min(boiled, wet.liquid_kg),
    )
    return cut_off(wet.liquid_kg - flashed - boiled, u)
