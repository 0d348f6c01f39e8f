"""Enthalpies for a picture of the running circuit: the two-phase dome, and single points of vapour or liquid.

Specific enthalpies in J/kg, with 200 kJ/kg for saturated liquid at 0 °C (the convention of the IIR, from memory), so a
picture agrees with printed charts. CoolProp's own reference is left as it is: it belongs to the whole process.
"""

from __future__ import annotations

import threading
from dataclasses import dataclass
from functools import cache

from fillmark.refrigerants.base import RefrigerantModel
from fillmark.refrigerants.coolprop import State, codes, new_state
from fillmark.refrigerants.names import look_up
from fillmark.refrigerants.protocol import OutOfRangeError

REFERENCE_K = 273.15
REFERENCE_J_KG = 200e3
DOME_POINTS = 40
COLDEST_K = 233.15
"""A dome for people begins at -40 °C: below, no vehicle circuit works."""
BELOW_CRITICAL = 0.9995
"""The end of the dome as a share of the highest saturation temperature: the equations are slow and rough beyond."""


@dataclass(frozen=True, slots=True)
class DomePoint:
    """Saturation at one temperature: bubble and dew, each with its own pressure."""

    temperature_k: float
    bubble_abs_pa: float
    bubble_j_kg: float
    dew_abs_pa: float
    dew_j_kg: float


class _Phases:
    """States held to liquid and to gas, guarded by a lock: an update and its reading are two calls."""

    def __init__(self, model: str) -> None:
        code = codes()
        self.pair_pt = code.pt
        self.lock = threading.Lock()
        self.liquid: State = new_state(model, code.liquid)
        self.gas: State = new_state(model, code.gas)

    def at(self, state: State, temperature_k: float, pressure_pa: float) -> float:
        with self.lock:
            state.update(self.pair_pt, pressure_pa, temperature_k)
            return state.hmass()


@cache
def _phases(name: str) -> _Phases:
    return _Phases(look_up(name).model)


@cache
def _shift(model: RefrigerantModel) -> float:
    own = _phases(model.name)
    return REFERENCE_J_KG - own.at(own.liquid, REFERENCE_K, model.bubble_pressure_pa(REFERENCE_K))


def vapour_j_kg(model: RefrigerantModel, temperature_k: float, pressure_abs_pa: float) -> float:
    """Specific enthalpy of vapour, J/kg; at the dew point where the temperature lies below it.

    A probe's error must not turn the vapour of a suction line into a mixture whose share of liquid nobody knows.

    Raises:
        OutOfRangeError: the refrigerant has no such vapour.
    """
    own = _phases(model.name)
    try:
        temperature_k = max(temperature_k, model.dew_temperature_k(pressure_abs_pa))
    except OutOfRangeError:
        if temperature_k < model.critical_temperature_k:
            raise
    return _asked(model, own, own.gas, temperature_k, pressure_abs_pa)


def liquid_j_kg(model: RefrigerantModel, temperature_k: float, pressure_abs_pa: float) -> float:
    """Specific enthalpy of liquid, J/kg; at the bubble point where the temperature lies above it.

    Raises:
        OutOfRangeError: the refrigerant has no such liquid.
    """
    own = _phases(model.name)
    temperature_k = min(temperature_k, model.bubble_temperature_k(pressure_abs_pa))
    return _asked(model, own, own.liquid, temperature_k, pressure_abs_pa)


def _asked(model: RefrigerantModel, own: _Phases, state: State, temperature_k: float, pressure_abs_pa: float) -> float:
    try:
        return own.at(state, temperature_k, pressure_abs_pa) + _shift(model)
    except ValueError as error:
        raise OutOfRangeError(
            f"{model.name} has no enthalpy at {temperature_k:.2f} K and {pressure_abs_pa:.0f} Pa"
        ) from error


@cache
def dome(model: RefrigerantModel) -> tuple[DomePoint, ...]:
    """The two-phase region from -40 °C to just below the critical point. Made once, some milliseconds."""
    lowest = max(COLDEST_K, model.saturation_temperature_min_k)
    highest = model.saturation_temperature_max_k * BELOW_CRITICAL
    own, shift = _phases(model.name), _shift(model)
    points = []
    for index in range(DOME_POINTS):
        kelvin = highest - (highest - lowest) * (1.0 - index / (DOME_POINTS - 1)) ** 2  # dense where it is round
        bubble, dew = model.bubble_pressure_pa(kelvin), model.dew_pressure_pa(kelvin)
        try:
            liquid, gas = own.at(own.liquid, kelvin, bubble), own.at(own.gas, kelvin, dew)
        except ValueError:
            continue  # the roughness of a blend near its critical point leaves a gap and no picture without a dome
        points.append(DomePoint(kelvin, bubble, liquid + shift, dew, gas + shift))
    return tuple(points)
