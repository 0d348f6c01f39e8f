"""What a circuit may suffer from, and what each does to the readings: a table, not a fit.

Directions follow the fault table of Rossi and Braun, "A statistical, rule-based fault detection and diagnostic method
for vapor compression air conditioners", HVAC&R Research 3 (1997) 19, as reproduced in a later thesis on rooftop air
conditioners (table 1-1): leak, valve leakage, liquid restriction and condenser fouling against evaporating and
condensing temperature, superheat, subcooling and discharge temperature. Overcharge and air in the circuit are not in
that table; their directions, and the size of every shift, are `common practice, no source`.

A shift is what the fault does when it is severe: so bad that the driver complains of no cooling, or a switch trips.
Milder faults shift in proportion, but for `PROGRESS`. Nothing here was fitted. One row, the narrowed orifice tube's,
was argued anew from the mass balance after a simulated circuit had contradicted it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from enum import StrEnum


class Condition(StrEnum):
    """What may be the case. Exactly one of the first two takes part: the second where the compressor cycles."""

    HEALTHY = "healthy"
    CYCLING_NORMALLY = "control cycling normally"
    UNDERCHARGE = "undercharge"
    OVERCHARGE = "overcharge"
    AIR = "air in the circuit"
    RESTRICTED = "restricted"
    CONDENSER_AIRFLOW = "condenser airflow"
    COMPRESSOR_WEAK = "compressor weak"


FAULTS = (
    Condition.UNDERCHARGE,
    Condition.OVERCHARGE,
    Condition.AIR,
    Condition.RESTRICTED,
    Condition.CONDENSER_AIRFLOW,
    Condition.COMPRESSOR_WEAK,
)


class Feature(StrEnum):
    """What is compared. K, but cycles a minute for `CYCLE_RATE` and kPa for `STATIC_EXCESS`."""

    EVAPORATING = "evaporating temperature"
    OVER_AMBIENT = "condensing over ambient"
    SUPERHEAT = "superheat"
    SUBCOOLING = "subcooling"
    VENT = "vent over evaporating temperature"
    DISCHARGE = "discharge over condensing"
    CYCLE_RATE = "compressor cycles a minute"
    STATIC_EXCESS = "static pressure over saturation"


class Layout(StrEnum):
    """How a circuit meters and where it keeps spare refrigerant. That decides what charge does to it."""

    VALVE_AND_RECEIVER = "expansion valve and receiver"
    ORIFICE_AND_ACCUMULATOR = "orifice tube and accumulator"
    VALVE_WITHOUT_RECEIVER = "expansion valve without receiver"


VEHICLE = (Layout.VALVE_AND_RECEIVER, Layout.ORIFICE_AND_ACCUMULATOR)
"""What a vehicle's circuit may be while nobody says which."""

STATIONARY = (Layout.VALVE_WITHOUT_RECEIVER,)

Shifts = Mapping[Feature, float]

_F = (
    Feature.EVAPORATING,
    Feature.OVER_AMBIENT,
    Feature.SUPERHEAT,
    Feature.SUBCOOLING,
    Feature.VENT,
    Feature.DISCHARGE,
    Feature.CYCLE_RATE,
    Feature.STATIC_EXCESS,
)


def _row(*shifts: float) -> Shifts:
    return dict(zip(_F, shifts, strict=True))


SHIFTS: Mapping[Layout, Mapping[Condition, Shifts]] = {
    #                                    evap   over  super   sub   vent  disch  rate static
    Layout.VALVE_AND_RECEIVER: {
        Condition.UNDERCHARGE:       _row(-12.0, -8.0, 14.0, -6.0, 20.0,   8.0,  2.0,   0.0),
        Condition.OVERCHARGE:        _row(  2.0, 10.0,  0.0, 12.0,  0.0,   2.0,  0.0,   0.0),
        Condition.AIR:               _row(  2.0, 14.0,  0.0, 14.0,  1.0,   8.0,  0.0, 100.0),
        Condition.RESTRICTED:        _row(-14.0, -8.0, 16.0,  3.0, 20.0,   8.0,  2.0,   0.0),
        Condition.CONDENSER_AIRFLOW: _row(  3.0, 16.0, -1.0, -1.0,  0.0,   4.0,  0.0,   0.0),
        Condition.COMPRESSOR_WEAK:   _row(  8.0, -8.0, -1.0, -1.0,  0.0,   0.0, -1.0,   0.0),
    },
    Layout.ORIFICE_AND_ACCUMULATOR: {
        Condition.UNDERCHARGE:       _row( -4.0, -8.0, 16.0, -7.0, 14.0,   8.0,  4.0,   0.0),
        Condition.OVERCHARGE:        _row(  3.0, 12.0, -1.0, 12.0,  0.0, -10.0, -1.0,   0.0),
        Condition.AIR:               _row(  2.0, 14.0,  0.0, 10.0,  1.0,   6.0,  0.0, 100.0),
        Condition.RESTRICTED:        _row(-10.0, 14.0, 14.0, 14.0, 14.0,   8.0,  3.0,   0.0),
        Condition.CONDENSER_AIRFLOW: _row(  4.0, 16.0, -1.0, -3.0,  0.0,   3.0, -1.0,   0.0),
        Condition.COMPRESSOR_WEAK:   _row(  8.0, -8.0, -1.0, -3.0,  0.0,   0.0, -2.0,   0.0),
    },
    Layout.VALVE_WITHOUT_RECEIVER: {
        Condition.UNDERCHARGE:       _row(-10.0, -5.0, 14.0, -6.0, 20.0,  10.0,  2.0,   0.0),
        Condition.OVERCHARGE:        _row(  2.0,  9.0,  0.0, 12.0,  0.0,   2.0,  0.0,   0.0),
        Condition.AIR:               _row(  2.0, 12.0,  0.0, 12.0,  1.0,   6.0,  0.0, 100.0),
        Condition.RESTRICTED:        _row(-12.0, -4.0, 14.0,  6.0, 20.0,  10.0,  2.0,   0.0),
        Condition.CONDENSER_AIRFLOW: _row(  3.0, 14.0, -1.0, -1.0,  0.0,   5.0,  0.0,   0.0),
        Condition.COMPRESSOR_WEAK:   _row(  7.0, -5.0, -1.0, -2.0,  0.0,   0.0, -1.0,   0.0),
    },
}  # fmt: skip

EARLY, LATE, LAST = 0.4, 1.5, 3.0


def _starving(when: float, **others: float) -> Mapping[Feature, float]:
    starved = (Feature.EVAPORATING, Feature.SUPERHEAT, Feature.VENT, Feature.DISCHARGE, Feature.CYCLE_RATE)
    return {**dict.fromkeys(starved, when), **{Feature[name]: exponent for name, exponent in others.items()}}


PROGRESS: Mapping[tuple[Layout, Condition], Mapping[Feature, float]] = {
    # What is missing is missing at the end of the condenser first: bubbles in the liquid line, then a starved coil.
    **{(layout, Condition.UNDERCHARGE): _starving(LATE, SUBCOOLING=EARLY) for layout in Layout},
    # A narrowed tube stacks the liquid up in the condenser, which raises the head as an overcharge does that stacks as
    # much; the coil starves last, once the accumulator is empty. Until then only the weighed charge tells them apart.
    (Layout.ORIFICE_AND_ACCUMULATOR, Condition.RESTRICTED): _starving(LAST, SUBCOOLING=EARLY, OVER_AMBIENT=EARLY),
}
"""Exponent of the severity where a shift does not grow in proportion."""


def shifted(layout: Layout, condition: Condition, feature: Feature, severity: float) -> float:
    """What a condition of this severity (1: severe) does to a feature; nothing where it is no fault."""
    shifts = SHIFTS[layout].get(condition)
    if shifts is None:
        return 0.0
    exponent = PROGRESS.get((layout, condition), {}).get(feature, 1.0)
    return shifts[feature] * math.pow(severity, exponent)


ADVICE: Mapping[Condition, str] = {
    Condition.HEALTHY: "Nothing to do by these readings.",
    Condition.CYCLING_NORMALLY: "Nothing to do by these readings: the control rests the compressor because the load "
    "is small.",
    Condition.UNDERCHARGE: "Do not top up by pressure. Recover and weigh what is in it, look for the leak, evacuate, "
    "and weigh the label's charge in.",
    Condition.OVERCHARGE: "Recover into a cylinder, evacuate and weigh the label's charge in.",
    Condition.AIR: "Recover into a cylinder, evacuate, hold the vacuum, and weigh the label's charge in.",
    Condition.RESTRICTED: "Feel or measure the temperature along the liquid line, the drier and the expansion device: "
    "a cold spot or frost is the restriction. Recover before anything is opened.",
    Condition.CONDENSER_AIRFLOW: "Look at the condenser's fan, its direction, the fins and the seals around it. Keep "
    "hands away from a fan that may start by itself.",
    Condition.COMPRESSOR_WEAK: "Check belt, clutch and control first. If both pressures stay close at full drive, the "
    "compressor does not pump.",
}
