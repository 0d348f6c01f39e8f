"""Static pressure before start: does the pressure fit the refrigerant on the label, and is there air in it?

A circuit that has stood long enough has one pressure and the temperature of its surroundings. While liquid is left in
it, that pressure is the bubble pressure at that temperature, whatever the charge. Above it something else takes part:
air, or another refrigerant. Below it no liquid is left, or the circuit is colder than was measured.

The partial pressure of air is the difference (Dalton), and a kelvin of doubt about the temperature is worth some 20 kPa
of it at 25 °C with R-134a: a small amount of air cannot be seen this way.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from fillmark.engine.performance.values import Probes, bar, celsius, spread
from fillmark.engine.quantity import Quantity
from fillmark.engine.report import Finding
from fillmark.refrigerants.protocol import OutOfRangeError, Refrigerant

COVERAGE = 2.0
"""A difference within so many standard uncertainties is no difference: 95 %, GUM 6.3.3."""

SOAK_K = 0.8
"""Standard uncertainty of a circuit's temperature against the air around it, after standing. Common practice."""


class Fit(StrEnum):
    """How static pressure and saturation compare."""

    SATURATED = "saturated"
    ABOVE = "above"
    BELOW = "below"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class StaticCheck:
    """Result of the static check. Pressures absolute, Pa. None: unknown.

    Attributes:
        excess_pa: static pressure over the bubble pressure at the ambient temperature, signed.
        air_pa: partial pressure of what does not condense, where `excess_pa` says that there is some.
        least_visible_air_pa: partial pressure below which air would not have shown.
        others: further refrigerants whose saturation fits as well, so that pressure cannot tell them apart.
    """

    fit: Fit
    saturation_pa: float | None
    excess_pa: Quantity | None
    air_pa: Quantity | None
    least_visible_air_pa: float | None
    others: tuple[str, ...]
    finding: Finding


def static_check(
    refrigerant: Refrigerant,
    pressure_abs_pa: float | None,
    ambient_k: float | None,
    probes: Probes,
    candidates: Sequence[Refrigerant] = (),
) -> StaticCheck:
    """Compare the static pressure of a circuit that has stood with saturation. Never raises.

    Args:
        refrigerant: what the label says.
        pressure_abs_pa: pressure, the same on both sides, before the first start. Absolute.
        ambient_k: temperature around the circuit.
        probes: uncertainties.
        candidates: refrigerants that it might be instead.
    """
    excess = _excess(refrigerant, pressure_abs_pa, ambient_k, probes)
    if excess is None or pressure_abs_pa is None or ambient_k is None:
        return _unknown(refrigerant, pressure_abs_pa, ambient_k)
    limit = COVERAGE * excess.u
    fit = Fit.ABOVE if excess.value > limit else Fit.BELOW if excess.value < -limit else Fit.SATURATED
    others = tuple(
        other.name
        for other in candidates
        if other.name != refrigerant.name and _fits(_excess(other, pressure_abs_pa, ambient_k, probes))
    )
    seen = (
        f"Static pressure {bar(pressure_abs_pa)} absolute at {celsius(ambient_k)}; "
        f"{refrigerant.name} has {bar(pressure_abs_pa - excess.value)} there: "
        f"{excess.value / 1e3:+.0f} ± {excess.u / 1e3:.0f} kPa."
    )
    return StaticCheck(
        fit=fit,
        saturation_pa=pressure_abs_pa - excess.value,
        excess_pa=excess,
        air_pa=excess if fit is Fit.ABOVE else None,
        least_visible_air_pa=limit,
        others=others,
        finding=_finding(fit, refrigerant.name, seen, excess, others),
    )


def _excess(
    refrigerant: Refrigerant, pressure_abs_pa: float | None, ambient_k: float | None, probes: Probes
) -> Quantity | None:
    if pressure_abs_pa is None or ambient_k is None or not 0.0 < pressure_abs_pa < math.inf:
        return None
    try:
        saturation = refrigerant.bubble_pressure_pa(ambient_k)
        thermal = spread(refrigerant.bubble_pressure_pa, ambient_k, math.hypot(probes.air_k, SOAK_K))
    except OutOfRangeError:
        return None
    return Quantity(pressure_abs_pa - saturation, math.hypot(thermal, probes.pressure_u_pa(pressure_abs_pa)))


def _fits(excess: Quantity | None) -> bool:
    return excess is not None and abs(excess.value) <= COVERAGE * excess.u


def _unknown(refrigerant: Refrigerant, pressure_abs_pa: float | None, ambient_k: float | None) -> StaticCheck:
    lacking = [
        name
        for name, value in (("the static pressure", pressure_abs_pa), ("the ambient temperature", ambient_k))
        if value is None
    ]
    if lacking:
        why, then = f"Not read: {' and '.join(lacking)}.", f"Read {' and '.join(lacking)} before the next cold start."
    else:
        why = f"{refrigerant.name} has no saturation at these readings, so its pressure depends on the charge alone."
        then = "Weigh the charge: the pressure cannot tell it."
    finding = Finding((why,), (), ("Neither refrigerant nor absence of air is shown.",), (then,))
    return StaticCheck(Fit.UNKNOWN, None, None, None, None, (), finding)


_PROVES = {
    Fit.SATURATED: "Liquid is in the circuit, and its pressure is that of {name}.",
    Fit.ABOVE: "The content is not {name} alone: air, another refrigerant, or a circuit warmer than the air around it.",
    Fit.BELOW: "No liquid {name} is in the circuit at this temperature, or it is colder than the air around it.",
}
_NEXT = {
    Fit.SATURATED: "Start, and read the running circuit.",
    Fit.ABOVE: "Let it stand longer and read again. If it stays, identify the refrigerant, recover it, evacuate "
    "and weigh the charge in.",
    Fit.BELOW: "Do not run it on this charge. Look for the leak, recover the rest, evacuate and weigh the charge in.",
}


def _finding(fit: Fit, name: str, seen: str, excess: Quantity, others: tuple[str, ...]) -> Finding:
    not_proved = [
        f"Air below a partial pressure of {COVERAGE * excess.u / 1e3:.0f} kPa would not have shown.",
        "The amount of charge: while liquid is left, pressure is the same for every charge.",
    ]
    if others:
        not_proved.append(f"By pressure alone it could as well be {', '.join(others)}: an identifier tells.")
    return Finding((seen,), (_PROVES[fit].format(name=name),), tuple(not_proved), (_NEXT[fit],))
