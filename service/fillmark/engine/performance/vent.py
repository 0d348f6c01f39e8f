"""What a healthy circuit can do with the air it is given: vent and evaporating temperature, and how hard it works.

The model, with every constant `common practice, no source`:

* In a vehicle air enters at the ambient temperature and humidity (fresh air, or recirculated with the doors open); in
  a room it is the room's.
* The wet coil brings it `coil_effect` of the way to the state of saturated air at the coil's surface, in enthalpy
  and in temperature: the by-pass factor of psychrometric practice.
* The control keeps the surface from freezing: it never goes below `coldest_surface_k`.
* Capacity a kg of air is `capacity_j_kg` at a surface of 0 °C and `NOMINAL_AMBIENT_K`. It grows with the surface's
  temperature as the density of the vapour does, and falls as the outside grows hotter.
* If the coil at its coldest asks for less than the capacity, the control cycles the compressor or turns it down. If it
  asks for more, the surface warms until both agree.

At 67 °F and middling humidity this gives about 40 °F, which is what practice says of a good system.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

from fillmark.engine.performance import psychrometrics as air
from fillmark.engine.performance.cycle import CycleInput
from fillmark.engine.performance.values import Probes
from fillmark.engine.quantity import Quantity


@dataclass(frozen=True, slots=True)
class Rule:
    """Constants of one kind of circuit.

    Attributes:
        coil_effect: how far the air comes to the state at the surface.
        coldest_surface_k: below this the control does not let the surface go.
        capacity_j_kg: heat a kg of dry air at a surface of 0 °C and `NOMINAL_AMBIENT_K`.
        model_u_k: standard uncertainty of the answer for a circuit that nobody measured when it was new.
    """

    coil_effect: float
    coldest_surface_k: float
    capacity_j_kg: float
    model_u_k: float


VEHICLE_RULE = Rule(coil_effect=0.8, coldest_surface_k=274.15, capacity_j_kg=28e3, model_u_k=3.0)
STATIONARY_RULE = Rule(coil_effect=0.75, coldest_surface_k=274.15, capacity_j_kg=16e3, model_u_k=2.5)

CAPACITY_PER_SURFACE_K = 0.035
CAPACITY_PER_AMBIENT_K = -0.01
NOMINAL_AMBIENT_K = 303.15
REFRIGERANT_SIDE_K_PER_J_KG = 0.1e-3
HOTTEST_SURFACE_K = 303.15

UNKNOWN_HUMIDITY = (0.25, 0.75)
"""Where humidity is not read, the answer spans this range and its uncertainty says so."""


@dataclass(frozen=True, slots=True)
class Expected:
    """What ambient and humidity allow.

    Attributes:
        vent: of the air that leaves, K.
        evaporating: of the refrigerant, K.
        load_j_kg: heat that a kg of dry air gives up.
        duty: share of its capacity that is asked for, 0 to 1.
        sensible_share: part of the load that cools; the rest takes out water.
        dew_point_k: of the entering air. None: humidity unknown, or very dry.
        humidity_known: whether humidity was read.
    """

    vent: Quantity
    evaporating: Quantity
    load_j_kg: float
    duty: float
    sensible_share: float
    dew_point_k: float | None
    humidity_known: bool


@dataclass(frozen=True, slots=True)
class _Coil:
    surface_k: float
    vent_k: float
    load_j_kg: float
    duty: float
    sensible_share: float


def expected(given: CycleInput, probes: Probes, rule: Rule = VEHICLE_RULE) -> Expected | None:
    """What a healthy circuit is expected to do. None: the entering air is unknown or outside the range of moist air.

    A circuit of a room (`STATIONARY_RULE`) takes the air of `intake_k`; a vehicle's takes it where it is read, else the
    ambient air. Humidity may be unknown, which widens the answer.
    """
    entering, humidity = given.intake_k, given.intake_humidity
    if entering is None and rule is not STATIONARY_RULE:
        entering, humidity = given.ambient_k, given.humidity
    if entering is None or given.ambient_k is None:
        return None
    if humidity is None:
        span = UNKNOWN_HUMIDITY
    else:
        span = max(humidity - probes.humidity, 0.0), min(humidity + probes.humidity, 1.0)
    half = sum(span) / 2.0
    air_in = _Air(entering, given.ambient_k, given.barometer_pa)
    try:
        dry, wet, middle = (_coil(air_in, one, rule) for one in (*span, half))
        warmer = _coil(replace(air_in, entering_k=entering + probes.air_k), half, rule)
        dew = None if humidity is None else _dew_point(air_in, humidity)
    except air.AirError:
        return None
    vent_u = math.hypot(rule.model_u_k, (wet.vent_k - dry.vent_k) / 2.0, warmer.vent_k - middle.vent_k)
    cold_u = math.hypot(rule.model_u_k, (_evaporating(wet) - _evaporating(dry)) / 2.0)
    return Expected(
        vent=Quantity(middle.vent_k, vent_u),
        evaporating=Quantity(_evaporating(middle), cold_u),
        load_j_kg=middle.load_j_kg,
        duty=middle.duty,
        sensible_share=middle.sensible_share,
        dew_point_k=dew,
        humidity_known=humidity is not None,
    )


@dataclass(frozen=True, slots=True)
class _Air:
    entering_k: float
    outside_k: float
    barometer_pa: float


def _dew_point(air_in: _Air, humidity: float) -> float | None:
    return air.dew_point_k(air.humidity_ratio(air_in.entering_k, humidity, air_in.barometer_pa), air_in.barometer_pa)


def _evaporating(coil: _Coil) -> float:
    return coil.surface_k - REFRIGERANT_SIDE_K_PER_J_KG * coil.load_j_kg


def _coil(air_in: _Air, humidity: float, rule: Rule) -> _Coil:
    entering, barometer = air_in.entering_k, air_in.barometer_pa
    ratio = air.humidity_ratio(entering, humidity, barometer)
    enthalpy = air.enthalpy_j_kg(entering, ratio)

    def wanted(surface_k: float) -> float:
        """Heat taken from a kg of air: in enthalpy over a wet surface, in temperature over a dry one."""
        dry = air.load(entering, ratio, surface_k, ratio).total_j_kg
        wet = enthalpy - air.saturated_enthalpy_j_kg(surface_k, barometer)
        return rule.coil_effect * max(dry, wet)

    def capacity(surface_k: float) -> float:
        warm = 1.0 + CAPACITY_PER_SURFACE_K * (surface_k - 273.15)
        hot = 1.0 + CAPACITY_PER_AMBIENT_K * (air_in.outside_k - NOMINAL_AMBIENT_K)
        return rule.capacity_j_kg * max(warm * hot, 0.1)

    surface = _surface(rule.coldest_surface_k, max(HOTTEST_SURFACE_K, entering), lambda t: wanted(t) - capacity(t))
    total = max(wanted(surface), 0.0)
    vent = surface + (1.0 - rule.coil_effect) * (entering - surface) if entering > surface else entering
    sensible = air.load(entering, ratio, vent, ratio).total_j_kg
    return _Coil(
        surface_k=surface,
        vent_k=vent,
        load_j_kg=total,
        duty=min(total / capacity(surface), 1.0),
        sensible_share=min(sensible / total, 1.0) if total > 0.0 else 1.0,
    )


def _surface(coldest_k: float, hottest_k: float, overload: Callable[[float], float]) -> float:
    """The surface temperature at which the coil takes what the circuit gives, but not below the coldest."""
    low, high = coldest_k, hottest_k
    if overload(low) <= 0.0:
        return low
    for _ in range(40):
        middle = 0.5 * (low + high)
        if overload(middle) > 0.0:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
