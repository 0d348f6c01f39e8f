"""What a healthy circuit shows, as a function of ambient and load, and how far healthy circuits differ.

Widths are one standard deviation from circuit to circuit, of designs that nobody has told us. All of it is
`common practice, no source`, but evaporating and vent temperature, which come from the model in `vent`.
"""

from __future__ import annotations

from collections.abc import Mapping

from fillmark.engine.performance.conditions import VEHICLE, Feature, Layout
from fillmark.engine.performance.cycle import Cycle
from fillmark.engine.performance.cycling import Rhythm
from fillmark.engine.performance.static import StaticCheck
from fillmark.engine.performance.vent import Expected
from fillmark.engine.quantity import Quantity

_HEALTHY: Mapping[Layout, Mapping[Feature, Quantity]] = {
    Layout.VALVE_AND_RECEIVER: {
        Feature.SUPERHEAT: Quantity(8.0, 3.0),
        Feature.SUBCOOLING: Quantity(6.0, 2.5),
    },
    Layout.ORIFICE_AND_ACCUMULATOR: {
        Feature.SUPERHEAT: Quantity(3.0, 3.0),
        Feature.SUBCOOLING: Quantity(7.0, 5.0),
    },
    Layout.VALVE_WITHOUT_RECEIVER: {
        Feature.SUPERHEAT: Quantity(7.0, 3.0),
        Feature.SUBCOOLING: Quantity(6.0, 2.5),
    },
}

_DISCHARGE_K: Mapping[str, float] = {"R-134a": 20.0, "R-1234yf": 11.0}
_DISCHARGE_OTHER = Quantity(22.0, 10.0)
_DISCHARGE_WIDTH_K = 7.0


def discharge(refrigerant: str) -> Quantity:
    """Discharge over condensing temperature, K. A refrigerant of heavy molecules grows less hot when compressed."""
    known = _DISCHARGE_K.get(refrigerant)
    return _DISCHARGE_OTHER if known is None else Quantity(known, _DISCHARGE_WIDTH_K)


_OVER_AMBIENT: Mapping[Layout, tuple[float, float, float]] = {
    # K at no load, K for each kJ of load a kg of air, width K
    Layout.VALVE_AND_RECEIVER: (8.0, 0.45, 4.5),
    Layout.ORIFICE_AND_ACCUMULATOR: (8.0, 0.45, 4.5),
    Layout.VALVE_WITHOUT_RECEIVER: (5.0, 0.30, 3.0),
}

CYCLING_BELOW_DUTY = 0.85
"""A healthy fixed compressor cycles where less of its capacity than this is asked for."""
CYCLE_RATE_WIDTH = 2.0

VENT_WIDTH_K = 2.5
"""Spread of vent over evaporating temperature: what the model gets wrong about one it gets wrong about both."""

CYCLING_WIDENS = 1.5
"""While the compressor cycles, means over its running and resting say less."""


def healthy(layout: Layout, feature: Feature, refrigerant: str, allowed: Expected, *, cycling: bool) -> Quantity:
    """What a healthy circuit of this layout shows under the load, and the spread from circuit to circuit."""
    match feature:
        case Feature.EVAPORATING:
            return allowed.evaporating
        case Feature.VENT:
            return Quantity(allowed.vent.value - allowed.evaporating.value, VENT_WIDTH_K)
        case Feature.CYCLE_RATE:
            usual = 3.0 if allowed.duty < CYCLING_BELOW_DUTY and layout in VEHICLE else 0.0
            return Quantity(usual, CYCLE_RATE_WIDTH)
        case Feature.STATIC_EXCESS:
            return Quantity(0.0, 5.0)
        case Feature.OVER_AMBIENT:
            base, slope, width = _OVER_AMBIENT[layout]
            value = Quantity(base * allowed.duty + slope * allowed.load_j_kg / 1e3, width)
        case Feature.DISCHARGE:
            value = discharge(refrigerant)
        case _:
            value = _HEALTHY[layout][feature]
    return Quantity(value.value, value.u * CYCLING_WIDENS) if cycling else value


def observed(seen: Cycle, rhythm: Rhythm | None, static: StaticCheck | None) -> Mapping[Feature, Quantity]:
    """The features that were read, with the uncertainty of the probes. What was not read is missing."""
    rate = None
    if rhythm is not None and rhythm.watched_s >= 120.0:
        rate = Quantity(rhythm.rate_per_min or 0.0, 0.5)
    excess = None if static is None else static.excess_pa
    read: dict[Feature, Quantity | None] = {
        Feature.EVAPORATING: seen.evaporating,
        Feature.OVER_AMBIENT: seen.over_ambient,
        Feature.SUPERHEAT: seen.superheat,
        Feature.SUBCOOLING: seen.subcooling,
        Feature.VENT: seen.vent_over_evaporating,
        Feature.DISCHARGE: seen.discharge_over_condensing,
        Feature.CYCLE_RATE: rate,
        Feature.STATIC_EXCESS: None if excess is None else Quantity(excess.value / 1e3, excess.u / 1e3),
    }
    return {feature: value for feature, value in read.items() if value is not None}
