"""What a healthy circuit can do with the air it is given: vent and evaporating temperature, and how hard it works.

The model, with every constant `common practice, no source`:

* Air enters at the ambient temperature and humidity (fresh air, or recirculated with the doors open).
* The wet coil brings it `COIL_EFFECT` of the way to the state of saturated air at the coil's surface, in enthalpy
  and in temperature: the by-pass factor of psychrometric practice.
* The control keeps the surface from freezing: it never goes below `COLDEST_SURFACE_K`.
* Capacity a kg of air is `CAPACITY_J_KG` at a surface of 0 °C and `NOMINAL_AMBIENT_K`. It grows with the surface's
  temperature as the density of the vapour does, and falls as the outside grows hotter.
* If the coil at its coldest asks for less than the capacity, the control cycles the compressor or turns it down. If it
  asks for more, the surface warms until both agree.

At 67 °F and middling humidity this gives about 40 °F, which is what practice says of a good system.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from fillmark.engine.performance import psychrometrics as air
from fillmark.engine.performance.values import Probes, Value

COIL_EFFECT = 0.8
COLDEST_SURFACE_K = 274.15
CAPACITY_J_KG = 28e3
CAPACITY_PER_SURFACE_K = 0.035
CAPACITY_PER_AMBIENT_K = -0.01
NOMINAL_AMBIENT_K = 303.15
REFRIGERANT_SIDE_K_PER_J_KG = 0.1e-3
HOTTEST_SURFACE_K = 303.15

MODEL_U_K = 3.0
"""Standard uncertainty of the model for a vehicle that nobody measured when it was new."""

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

    vent: Value
    evaporating: Value
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


def expected(ambient_k: float | None, humidity: float | None, barometer_pa: float, probes: Probes) -> Expected | None:
    """What a healthy circuit is expected to do. None: the ambient is unknown or outside the range of moist air.

    Args:
        ambient_k: temperature of the air that enters.
        humidity: its relative humidity, 0 to 1; None: unknown, which widens the answer.
        barometer_pa: atmospheric pressure.
        probes: uncertainties of the air probes.
    """
    if ambient_k is None:
        return None
    if humidity is None:
        span = UNKNOWN_HUMIDITY
    else:
        span = max(humidity - probes.humidity, 0.0), min(humidity + probes.humidity, 1.0)
    try:
        ends = tuple(_coil(ambient_k, one, barometer_pa) for one in span)
        warmer = _coil(ambient_k + probes.air_k, sum(span) / 2.0, barometer_pa)
        middle = _coil(ambient_k, sum(span) / 2.0, barometer_pa)
        ratio = None if humidity is None else air.humidity_ratio(ambient_k, humidity, barometer_pa)
        dew = None if ratio is None else air.dew_point_k(ratio, barometer_pa)
    except air.AirError:
        return None
    dry, wet = ends
    vent_u = math.hypot(MODEL_U_K, (wet.vent_k - dry.vent_k) / 2.0, warmer.vent_k - middle.vent_k)
    cold_u = math.hypot(MODEL_U_K, (_evaporating(wet) - _evaporating(dry)) / 2.0)
    return Expected(
        vent=Value(middle.vent_k, vent_u),
        evaporating=Value(_evaporating(middle), cold_u),
        load_j_kg=middle.load_j_kg,
        duty=middle.duty,
        sensible_share=middle.sensible_share,
        dew_point_k=dew,
        humidity_known=humidity is not None,
    )


def _evaporating(coil: _Coil) -> float:
    return coil.surface_k - REFRIGERANT_SIDE_K_PER_J_KG * coil.load_j_kg


def _coil(entering_k: float, humidity: float, barometer_pa: float) -> _Coil:
    ratio = air.humidity_ratio(entering_k, humidity, barometer_pa)
    enthalpy = air.enthalpy_j_kg(entering_k, ratio)

    def wanted(surface_k: float) -> float:
        return _taken(entering_k, ratio, enthalpy, surface_k, barometer_pa)

    surface = _surface(entering_k, wanted)
    total = max(wanted(surface), 0.0)
    vent = surface + (1.0 - COIL_EFFECT) * (entering_k - surface) if entering_k > surface else entering_k
    sensible = air.enthalpy_j_kg(entering_k, ratio) - air.enthalpy_j_kg(vent, ratio)
    return _Coil(
        surface_k=surface,
        vent_k=vent,
        load_j_kg=total,
        duty=min(total / _capacity(surface, entering_k), 1.0),
        sensible_share=min(sensible / total, 1.0) if total > 0.0 else 1.0,
    )


def _taken(entering_k: float, ratio: float, enthalpy: float, surface_k: float, barometer_pa: float) -> float:
    """Heat taken from a kg of air: in enthalpy over a wet surface, in temperature over a dry one."""
    dry = air.load(entering_k, ratio, surface_k, ratio).total_j_kg
    wet = enthalpy - air.saturated_enthalpy_j_kg(surface_k, barometer_pa)
    return COIL_EFFECT * max(dry, wet)


def _capacity(surface_k: float, ambient_k: float) -> float:
    warm = 1.0 + CAPACITY_PER_SURFACE_K * (surface_k - 273.15)
    hot = 1.0 + CAPACITY_PER_AMBIENT_K * (ambient_k - NOMINAL_AMBIENT_K)
    return CAPACITY_J_KG * max(warm * hot, 0.1)


def _surface(entering_k: float, wanted: Callable[[float], float]) -> float:
    """The surface temperature at which the coil takes what the circuit gives, but not below freezing."""
    low, high = COLDEST_SURFACE_K, max(HOTTEST_SURFACE_K, entering_k)
    if wanted(low) <= _capacity(low, entering_k):
        return low
    for _ in range(40):
        middle = 0.5 * (low + high)
        if wanted(middle) > _capacity(middle, entering_k):
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
