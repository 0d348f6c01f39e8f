"""The cycle from two pressures and a few temperatures, each result with its standard uncertainty.

* Evaporating temperature: dew point at the low pressure. Condensing temperature: between dew and bubble point at the
  high pressure; both are kept.
* Superheat = suction temperature − dew point at low pressure. Subcooling = bubble point at high pressure − liquid
  temperature. With a zeotropic blend dew and bubble lie kelvins apart and must not be exchanged.
* What is not read, or lies where the refrigerant has no such property, is None. R-744 above its critical pressure has
  no condensing temperature: its high side is a gas cooler.
* Pressures are absolute, Pa; temperatures K.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from fillmark.engine.performance.values import Probes, bar, celsius, spread
from fillmark.engine.quantity import Quantity
from fillmark.refrigerants.protocol import OutOfRangeError, Refrigerant


@dataclass(frozen=True, slots=True)
class CycleInput:
    """What was read while the circuit ran. None: not read. Humidities are relative, 0 to 1.

    Attributes:
        ambient_k: air at the condenser, in a vehicle also the air that enters the evaporator.
        intake_k: air that enters the evaporator where it is another, with `intake_humidity`.
    """

    low_abs_pa: float | None = None
    high_abs_pa: float | None = None
    suction_k: float | None = None
    liquid_k: float | None = None
    discharge_k: float | None = None
    vent_k: float | None = None
    ambient_k: float | None = None
    humidity: float | None = None
    intake_k: float | None = None
    intake_humidity: float | None = None
    barometer_pa: float = 101325.0


@dataclass(frozen=True, slots=True)
class Cycle:
    """What follows from the readings. Temperatures K, differences K. None: unknown.

    Attributes:
        transcritical: the high side is above the critical pressure, so nothing condenses there. None: unknown.
        condensing_dew: where condensing begins; `condensing_bubble`: where it ends; `condensing`: half way.
        over_ambient: condensing temperature over the ambient air.
        gas_cooler_approach: for a gas cooler, the temperature of what leaves it over ambient.
        discharge_over_condensing: discharge temperature over the dew point at the high pressure.
        pressure_ratio: high over low, a pure number.
        vent_drop: ambient over vent; `vent_over_evaporating`: vent over the evaporating temperature.
    """

    given: CycleInput
    transcritical: bool | None
    evaporating: Quantity | None
    condensing_dew: Quantity | None
    condensing_bubble: Quantity | None
    condensing: Quantity | None
    superheat: Quantity | None
    subcooling: Quantity | None
    over_ambient: Quantity | None
    gas_cooler_approach: Quantity | None
    discharge_over_condensing: Quantity | None
    pressure_ratio: Quantity | None
    vent_drop: Quantity | None
    vent_over_evaporating: Quantity | None


def cycle(refrigerant: Refrigerant, given: CycleInput, probes: Probes) -> Cycle:
    """Derive the cycle. Never raises: what cannot be derived is None."""
    low = _reading(given.low_abs_pa, probes.pressure_u_pa)
    high = _reading(given.high_abs_pa, probes.pressure_u_pa)
    suction, liquid, discharge = (
        None if t is None else Quantity(t, probes.clamp_k) for t in (given.suction_k, given.liquid_k, given.discharge_k)
    )
    vent, ambient = (None if t is None else Quantity(t, probes.air_k) for t in (given.vent_k, given.ambient_k))
    transcritical = _transcritical(refrigerant, given.high_abs_pa)
    evaporating = _saturation(refrigerant.dew_temperature_k, low)
    dew = _saturation(refrigerant.dew_temperature_k, high)
    bubble = _saturation(refrigerant.bubble_temperature_k, high)
    # Dew and bubble follow from one pressure, so their errors go together.
    middle = (
        None if dew is None or bubble is None else Quantity((dew.value + bubble.value) / 2.0, (dew.u + bubble.u) / 2.0)
    )
    return Cycle(
        given=given,
        transcritical=transcritical,
        evaporating=evaporating,
        condensing_dew=dew,
        condensing_bubble=bubble,
        condensing=middle,
        superheat=_difference(suction, evaporating),
        subcooling=_difference(bubble, liquid),
        over_ambient=_difference(middle, ambient),
        gas_cooler_approach=_difference(liquid, ambient) if transcritical else None,
        discharge_over_condensing=_difference(discharge, dew),
        pressure_ratio=_ratio(high, low),
        vent_drop=_difference(ambient, vent),
        vent_over_evaporating=_difference(vent, evaporating),
    )


def sentences(refrigerant: Refrigerant, seen: Cycle) -> tuple[str, ...]:
    """What was seen, in words with numbers, for example "High side 17.2 bar = 60.0 °C, 30.0 K over ambient 30.0 °C"."""
    return tuple(one for one in (_low(seen), _high(refrigerant, seen), _superheat(seen), _subcooling(seen)) if one)


def _low(seen: Cycle) -> str:
    pressure = seen.given.low_abs_pa
    if pressure is None:
        return ""
    means = "" if seen.evaporating is None else f" = {celsius(seen.evaporating.value)} evaporating"
    return f"Low side {bar(pressure)} absolute{means}."


def _high(refrigerant: Refrigerant, seen: Cycle) -> str:
    pressure, ambient = seen.given.high_abs_pa, seen.given.ambient_k
    if pressure is None:
        return ""
    if seen.transcritical:
        approach = seen.gas_cooler_approach
        leaves = "" if approach is None else f", the gas leaves the cooler {approach.value:.1f} K over ambient"
        return f"High side {bar(pressure)} absolute, above the critical point of {refrigerant.name}{leaves}."
    means = "" if seen.condensing is None else f" = {celsius(seen.condensing.value)} condensing"
    over = "" if seen.over_ambient is None or ambient is None else (
        f", {seen.over_ambient.value:.1f} ± {seen.over_ambient.u:.1f} K over ambient {celsius(ambient)}"
    )  # fmt: skip
    return f"High side {bar(pressure)} absolute{means}{over}."


def _superheat(seen: Cycle) -> str:
    value = seen.superheat
    return "" if value is None else f"Superheat {value.value:.1f} ± {value.u:.1f} K at the suction clamp."


def _subcooling(seen: Cycle) -> str:
    value = seen.subcooling
    return "" if value is None else f"Subcooling {value.value:.1f} ± {value.u:.1f} K at the liquid clamp."


def _transcritical(refrigerant: Refrigerant, high_abs_pa: float | None) -> bool | None:
    if high_abs_pa is None:
        return None
    try:
        near_pa = refrigerant.bubble_pressure_pa(refrigerant.critical_temperature_k - 6.0)
    except OutOfRangeError:
        return None
    if high_abs_pa <= near_pa:
        return False
    try:
        refrigerant.dew_temperature_k(high_abs_pa)
    except OutOfRangeError:
        return True
    return False


def _reading(value: float | None, u: Callable[[float], float]) -> Quantity | None:
    return None if value is None or not 0.0 < value < math.inf else Quantity(value, u(value))


def _saturation(temperature_of: Callable[[float], float], pressure: Quantity | None) -> Quantity | None:
    if pressure is None:
        return None
    try:
        return Quantity(temperature_of(pressure.value), spread(temperature_of, pressure.value, pressure.u))
    except OutOfRangeError:
        return None


def _difference(one: Quantity | None, other: Quantity | None) -> Quantity | None:
    return None if one is None or other is None else one.minus(other)


def _ratio(high: Quantity | None, low: Quantity | None) -> Quantity | None:
    if high is None or low is None:
        return None
    ratio = high.value / low.value
    return Quantity(ratio, ratio * math.hypot(high.u / high.value, low.u / low.value))
