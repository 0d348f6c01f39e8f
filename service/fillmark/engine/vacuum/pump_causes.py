"""What holds a pull-down up or back, told apart where the data can.

| cause | named when |
|---|---|
| PUMP_LIMIT | a plateau of which the declared ultimate pressure of the pump makes half or more |
| WET | a plateau that sinks, at a pressure that water has, fed by so much vapour that no oil holds it |
| OUTGASSING | a plateau that sinks: a part fades, as vapour does and a leak does not. What the rest is stays open |
| OUTGASSING | a fall at less than FADES_SHARE of the speed that pump and hose have, and had while air was pumped |
| LEAKING | a plateau that does not sink, above the saturation pressure of water even at the warmest part |
| SLOWER_THAN_DECLARED | less than half the speed that pump and hose would give, in air, by their declared sizes |
| HOSE_THIN | still falling, at less than half of the pump's speed, and the declared hose explains that |
| PUMP_SMALL | still falling, at half of the pump's speed or more |

A steady load says no more than its size: it may be a leak, moisture, oil, or a pump worse than its plate. All of these
stay open then: shut the valve and hold.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fillmark.engine.quantity import Quantity
from fillmark.engine.vacuum.pump_types import Cause, PumpSetup
from fillmark.engine.vacuum.water import saturation_pressure_pa

SLOW_SHARE = 0.5
LIMIT_SHARE = 0.5
FADES_SHARE = 0.3
"""A fall at so small a share of the speed is no pumping down. Common practice, no source."""

STEADY_CAUSES = frozenset({Cause.PUMP_LIMIT, Cause.LEAKING})
"""What pumping on does not cure."""

COARSE_STEPS = 3.0
"""A plateau of fewer steps of the gauge says nothing of what makes it."""

WATER_SHARES = (0.15, 1.1)
ABOVE_WATER_SHARE = 1.3
WARMEST_OVER_K = 10.0
"""No wet part is so much warmer than the coldest. Common practice, no source."""

MOST_FROM_OIL_PA_M3_S = 0.05


@dataclass(frozen=True, slots=True)
class Evidence:
    """What was worked out before the causes are looked for. None: unknown.

    Attributes:
        pressure_pa: now.
        plateau: with the uncertainty of the gauge's zero.
        sinks: whether the plateau itself sinks.
        speed: at the circuit, now.
        expected_m3_s: by the declared sizes, now.
        air_speed, air_expected_m3_s: the same while air is pumped.
        laminar: whether the speed grows with the pressure, as through something narrow.
    """

    pressure_pa: float
    plateau: Quantity
    reached: bool
    sinks: bool
    speed: Quantity | None
    expected_m3_s: float | None
    air_speed: Quantity | None
    air_expected_m3_s: float | None
    laminar: bool

    def load(self, setup: PumpSetup) -> Quantity | None:
        """Gas that comes in at the plateau: speed times what it stands above the pump's ultimate pressure, Pa m³/s."""
        if self.speed is None or setup.ultimate_pa is None:
            return None
        over = max(self.plateau.value - setup.ultimate_pa, 0.0)
        return Quantity(self.speed.value * over, math.hypot(self.speed.u * over, self.speed.value * self.plateau.u))


def causes_of(setup: PumpSetup, seen: Evidence) -> tuple[tuple[Cause, ...], tuple[Cause, ...]]:
    """What the data say, and what they leave open."""
    slow = (Cause.SLOWER_THAN_DECLARED,) if _slower(seen) else ()
    if setup.target_pa is not None and seen.pressure_pa <= setup.target_pa:
        return slow, ()
    if not seen.reached and _fades(seen):
        return (*slow, Cause.OUTGASSING), ()
    held_up = seen.reached or seen.pressure_pa - seen.plateau.value < SLOW_SHARE * seen.pressure_pa
    named, left_open = _held_up(setup, seen) if held_up else _held_back(setup, seen, slow=bool(slow))
    return (*slow, *named), left_open


def _slower(seen: Evidence) -> bool:
    if seen.air_speed is None or seen.air_expected_m3_s is None:
        return False
    return seen.air_speed.value + 2.0 * seen.air_speed.u < SLOW_SHARE * seen.air_expected_m3_s


def _fades(seen: Evidence) -> bool:
    """Whether the pressure falls far slower than pump and hose draw: then it is what comes in that fades."""
    if seen.speed is None or seen.expected_m3_s is None or seen.air_speed is None or seen.air_expected_m3_s is None:
        return False
    in_air = min(seen.air_speed.value / seen.air_expected_m3_s, 1.0)
    return seen.speed.value + 2.0 * seen.speed.u < FADES_SHARE * in_air * seen.expected_m3_s


def _held_back(setup: PumpSetup, seen: Evidence, *, slow: bool) -> tuple[tuple[Cause, ...], tuple[Cause, ...]]:
    """The pressure still falls: what sets the pace?"""
    between = (Cause.HOSE_THIN, Cause.PUMP_SMALL)
    if seen.speed is None or setup.speed_m3_s is None:
        return ((Cause.HOSE_THIN,), ()) if seen.laminar else ((), between)
    half = SLOW_SHARE * setup.speed_m3_s
    if seen.speed.value - seen.speed.u > half:
        return (Cause.PUMP_SMALL,), ()
    if seen.speed.value + seen.speed.u > half or seen.expected_m3_s is None:
        return (), () if slow else between
    if seen.expected_m3_s < half:
        return (Cause.HOSE_THIN,), ()
    return (), () if slow else (Cause.HOSE_THIN, Cause.SLOWER_THAN_DECLARED)


def _held_up(setup: PumpSetup, seen: Evidence) -> tuple[tuple[Cause, ...], tuple[Cause, ...]]:
    """The pressure stands: what feeds it?"""
    limit = Cause.PUMP_LIMIT
    everything = (Cause.LEAKING, Cause.WET, Cause.OUTGASSING, limit)
    if not seen.reached or seen.plateau.value < COARSE_STEPS * setup.gauge.resolution_pa:
        return (), (*everything, Cause.HOSE_THIN, Cause.PUMP_SMALL)
    if setup.ultimate_pa is not None and LIMIT_SHARE * (seen.plateau.value + seen.plateau.u) <= setup.ultimate_pa:
        return (Cause.PUMP_LIMIT,), ()
    if seen.sinks:
        return ((Cause.WET,), ()) if _like_water(setup, seen) else ((Cause.OUTGASSING,), (Cause.LEAKING, limit))
    if _above_water(setup, seen):
        return (Cause.LEAKING,), ()
    return (), everything


def _like_water(setup: PumpSetup, seen: Evidence) -> bool:
    """Whether so much vapour comes, at a pressure that water has, that it is water and not refrigerant from the oil."""
    load = seen.load(setup)
    if load is None or setup.coldest_k is None:
        return False
    least, most = (share * saturation_pressure_pa(setup.coldest_k) for share in WATER_SHARES)
    return least <= seen.pressure_pa <= most and load.value - 2.0 * load.u > MOST_FROM_OIL_PA_M3_S


def _above_water(setup: PumpSetup, seen: Evidence) -> bool:
    """Whether the plateau stands above what water can have, even at the warmest part."""
    if setup.coldest_k is None:
        return False
    ceiling = saturation_pressure_pa(setup.coldest_k + WARMEST_OVER_K)
    return seen.plateau.value - 2.0 * seen.plateau.u > ABOVE_WATER_SHARE * ceiling
