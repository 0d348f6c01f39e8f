"""The condition of each stop point: what must be seen for it, and the sentence that tells it.

A condition returns what it finds, by subject (a channel, a container, or "" where there is only one), and nothing
where it finds nothing or does not know. `active` holds the subjects for which it speaks already: a condition lets go
later than it bites, so that noise at a threshold is one call and not ten.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping

from fillmark.engine.close_call import LEAST_FLOW_KG_S
from fillmark.engine.course import Course
from fillmark.engine.hold_up import HoldUp
from fillmark.engine.picture import Picture
from fillmark.engine.plan import grams
from fillmark.engine.weighing.path import Path
from fillmark.refrigerants.protocol import OutOfRangeError

Findings = Mapping[str, str]
Active = Collection[str]

NOTHING: Findings = {}
LET_GO_KG = 3e-3
CALL_STAYS_S = 2.0
"""A call is not taken from under the hand that obeys it: about a reaction time. Judged."""

ROUNDING_KG = 1e-6
"""A tick falls due on a clock that counts in fractions of a microsecond; the call must not miss its own moment."""

UNSTEADY_STAYS_S = 30.0
"""So long must the indication be steady: engines are revved, and a draught comes in gusts. Judged."""

EVACUATED_START_S = 20.0
"""Time to open the low side and let the first vapour in after the engine was started. Common practice, no source."""

LIQUID_WORTH_RECOVERING_KG = 5e-3
CONTAINER_LIMIT_K = 273.15 + 50.0
"""Aerosol dispensers must not exceed 50 °C: Directive 75/324/EEC annex, labelling (from memory)."""

EQUAL_SHARE = 0.03
STATIC_MARGIN_K = 5.0
STATIC_MARGIN_SHARE = 0.03
STATIC_STILL_S = 20.0


def close_valve_now(picture: Picture, active: Active) -> Findings:
    """Closing now, after reaction and delay, lands on the aim."""
    land, course = picture.landing, picture.course
    if land is None or not course.circuit_open:
        return NOTHING
    aim = course.setup.aim_kg
    flows = (picture.flow_kg_s or 0.0) >= LEAST_FLOW_KG_S
    let_go = max(LET_GO_KG, picture.charged.u_kg) if active else 0.0
    if land.if_called_kg < aim - let_go - ROUNDING_KG or not (flows or active or picture.charged.mass_kg >= aim):
        return NOTHING
    valve = _open_valve(course.valves)
    return {
        "": f"Close the {valve} valve now: {grams(picture.charged.mass_kg)} are in, "
        f"{(picture.flow_kg_s or 0.0) * 1e3:.1f} g/s flow, closing now lands at {grams(land.if_called_kg)}."
    }


def while_open(stays_s: float) -> Callable[[Picture], float]:
    """An off-delay, s, of what is said of the flow into an open circuit; none once the valve is shut."""
    return lambda picture: stays_s if picture.charging and picture.course.circuit_open else 0.0


def why_call_withdrawn(picture: Picture) -> str:
    """Why the close call is taken back."""
    if not picture.course.circuit_open:
        return f"The valve is shut; {grams(picture.charged.mass_kg)} are in."
    if (picture.flow_kg_s or 0.0) < LEAST_FLOW_KG_S:
        return f"Withdrawn: the flow has stopped at {grams(picture.charged.mass_kg)}."
    return f"Withdrawn: the flow has fallen to {(picture.flow_kg_s or 0.0) * 1e3:.1f} g/s."


def _open_valve(valves: Mapping[str, bool]) -> str:
    for name, word in (("high", "high-side"), ("low", "low-side")):
        if valves.get(name):
            return word
    return "container's"


def _reached(picture: Picture, active: Active, threshold_kg: float) -> bool:
    let_go = max(LET_GO_KG, 2.0 * picture.charged.u_kg) if active else 0.0
    return picture.charged.mass_kg >= threshold_kg - let_go


def aim_reached(picture: Picture, active: Active) -> Findings:
    """The aim is in the circuit."""
    aim = picture.course.setup.aim_kg
    if not _reached(picture, active, aim):
        return NOTHING
    return {"": f"The aim of {grams(aim)} is in: {_mass(picture.charged)}. Keep the valve shut."}


def window_reached(picture: Picture, active: Active) -> Findings:
    """The label's minimum is in the circuit."""
    least = picture.course.setup.circuit.charge_min_kg
    if not _reached(picture, active, least):
        return NOTHING
    return {"": f"The label's minimum of {grams(least)} is in: {_mass(picture.charged)}."}


def window_exceeded(picture: Picture, active: Active) -> Findings:
    """More than the label's maximum is in the circuit."""
    most = picture.course.setup.circuit.charge_max_kg
    if picture.charged.mass_kg <= (most - (LET_GO_KG if active else 0.0)):
        return NOTHING
    over = picture.charged.mass_kg - most
    return {
        "": f"{_mass(picture.charged)} are in, {grams(over)} above the label's maximum. "
        "Shut the valve and recover the excess by weight."
    }


def scale_disturbed(picture: Picture, active: Active) -> Findings:
    """The indication moves as no container can."""
    del active
    pan = picture.course.pan
    step = abs(pan.pending_offset_kg)
    if picture.course.mounted is None or pan.path is Path.HANDLED:
        return NOTHING
    if not (pan.disturbed or 0.0 < step < unexplained_bound_kg(picture)):
        return NOTHING
    return {
        "": "The scale is disturbed; the mass is held and carried on by the flow. Take hand, hose and tools off it."
    }


def scale_unsteady(picture: Picture, active: Active) -> Findings:
    """The indication wanders by more than its step although nothing pulls: the bench shakes, or a draught blows."""
    del active
    pan = picture.course.pan
    if picture.course.mounted is None or pan.path is not Path.OPEN or pan.unrest.rms_kg == 0.0:
        return NOTHING
    if not picture.live("scale/mass"):
        return NOTHING
    return {
        "": "The indication wanders by more than its step; the bench shakes, or a draught blows. Set the scale on firm "
        "ground; until then the mass is less sure."
    }


def unsteady_stays_s(picture: Picture) -> float:
    """How long the indication must be steady before it counts as such."""
    return UNSTEADY_STAYS_S if picture.weighing and picture.course.pan.path is Path.OPEN else 0.0


def unexplained_bound_kg(picture: Picture) -> float:
    """Size from which a step is asked about."""
    return max(4.0 * picture.course.setup.scale.resolution_kg, 15e-3)


def unexplained_mass_step(picture: Picture, active: Active) -> Findings:
    """The indication stepped and stayed there, which no flow does."""
    del active
    pan = picture.course.pan
    step = pan.pending_offset_kg
    if picture.course.mounted is None or abs(step) < unexplained_bound_kg(picture):
        return NOTHING
    sign = "more" if step > 0.0 else "less"
    return {
        "": f"The scale shows {grams(abs(step))} {sign} than container and flow explain. It is not counted. Was the "
        "container changed, lifted, or something laid on the pan? Say so, or say that it was refrigerant."
    }


def scale_overload(picture: Picture, active: Active) -> Findings:
    """More stands on the scale than it can weigh."""
    capacity = picture.course.setup.scale.capacity_kg
    indication = picture.course.value("scale/mass")
    if capacity is None or indication is None or indication < capacity * (0.98 if active else 1.0):
        return NOTHING
    return {"": f"The scale shows {indication:.3f} kg, its capacity is {capacity:.3f} kg. Shut the valve; unload it."}


def high_pressure_limit(picture: Picture, active: Active) -> Findings:
    """The high side is at the limit that the user gave."""
    limit = picture.course.setup.limits.high_pressure_abs_pa
    pressure = picture.course.pressure_abs_pa("high/pressure")
    if limit is None or pressure is None or not picture.live("high/pressure"):
        return NOTHING
    if pressure < limit * (0.95 if active else 1.0):
        return NOTHING
    return {
        "": f"High side at {pressure / 1e5:.1f} bar, limit {limit / 1e5:.1f} bar absolute. Stop the engine; check "
        "condenser, fan and charge. Never open the high-side valve to a container."
    }


def low_pressure_limit(picture: Picture, active: Active) -> Findings:
    """The compressor draws the low side below its limit, or below the atmosphere so that a leak draws air.

    A circuit that is charged from a vacuum is below it when the engine is started, before the first vapour is in. That
    is how the work goes and no finding, until evacuated_start_ends_s; a side that the compressor draws down is one.
    """
    course = picture.course
    given, limit = course.setup.limits.low_pressure_abs_pa, _low_limit_pa(course)
    pressure = course.pressure_abs_pa("low/pressure")
    if pressure is None or not course.engine_running or not picture.live("low/pressure"):
        return NOTHING
    if pressure > limit * (1.1 if active else 1.0):
        return NOTHING
    waits = evacuated_start_ends_s(course)
    if waits is not None and picture.now_s < waits:
        return NOTHING
    which = "its limit" if given is not None else "the atmosphere: a leak draws air in"
    return {"": f"Low side at {pressure / 1e5:.2f} bar absolute, below {which}. Stop the compressor or let vapour in."}


def _low_limit_pa(course: Course) -> float:
    given = course.setup.limits.low_pressure_abs_pa
    return course.barometer().pressure_pa if given is None else given


def evacuated_start_ends_s(course: Course) -> float | None:
    """Until when a low side that was evacuated when the engine was started may stay low; None: it was not."""
    start = course.engine_start
    if start is None or start.low_abs_pa is None or start.low_abs_pa > _low_limit_pa(course):
        return None
    return start.time_s + EVACUATED_START_S


def high_side_open_while_running(picture: Picture, active: Active) -> Findings:
    """The compressor can press into the container."""
    del active
    if not (picture.course.valves.get("high") and picture.course.engine_running):
        return NOTHING
    return {
        "": "The high-side valve is open while the engine runs: the compressor presses into hose and container, which "
        "can burst. Shut the high-side valve now."
    }


def liquid_to_low_side(picture: Picture, active: Active) -> Findings:
    """Liquid on its way to the compressor."""
    del active
    container = picture.course.container
    if container is None or container.draw != "liquid" or not picture.course.valves.get("low"):
        return NOTHING
    return {
        "": "Liquid is drawn into the low side and reaches the compressor. Shut the low-side valve; turn the container "
        "upright, or charge liquid through the high side with the engine off."
    }


def wrong_refrigerant_suspected(picture: Picture, active: Active) -> Findings:
    """Another refrigerant is declared, or the static pressure is none that this one can have."""
    del active
    course = picture.course
    own = course.setup.circuit.refrigerant
    container = course.container
    if container is not None and container.refrigerant not in {None, own.name}:
        return {container.id: f"{container.id} holds {container.refrigerant}, the circuit takes {own.name}. Shut it."}
    pressure = _static_pressure_pa(picture)
    ambient = course.temperature_k("ambient/temperature")
    if pressure is None or ambient is None or not picture.live("ambient/temperature"):
        return NOTHING
    try:
        most = own.bubble_pressure_pa(ambient + STATIC_MARGIN_K) * (1.0 + STATIC_MARGIN_SHARE)
        least = own.dew_pressure_pa(ambient - STATIC_MARGIN_K) * (1.0 - STATIC_MARGIN_SHARE)
        vapour_only_kg = (course.setup.circuit.volume_m3 or 0.0) * own.saturated_vapour_density_kg_m3(ambient)
    except OutOfRangeError:
        return NOTHING
    liquid_sure = course.setup.circuit.volume_m3 is not None and picture.charged.mass_kg > 2.0 * vapour_only_kg
    if pressure <= most and not (pressure < least and liquid_sure):
        return NOTHING
    expected = f"{least / 1e5:.1f} to {most / 1e5:.1f} bar"
    return {
        "": f"The standing circuit is at {pressure / 1e5:.1f} bar absolute; {own.name} at {ambient - 273.15:.0f} °C "
        f"stands at {expected}. Another refrigerant or air may be in it. Shut the valve and identify it first."
    }


def _static_pressure_pa(picture: Picture) -> float | None:
    """Pressure of a circuit at rest; None unless both sides are known, equal, live and nothing ran or flows.

    A running compressor sets the sides apart, so equal sides also prove that it stands where nobody recorded it.
    """
    course = picture.course
    low, high = course.pressure_abs_pa("low/pressure"), course.pressure_abs_pa("high/pressure")
    if course.engine_running or course.engine_ran or low is None or high is None:
        return None
    if not (picture.live("low/pressure") and picture.live("high/pressure")) or abs(high - low) > EQUAL_SHARE * high:
        return None
    fill = course.account.fill
    still_since = course.slow_since_s if fill is None or fill.shut_at_s is None else fill.shut_at_s
    if fill is not None and (still_since is None or picture.now_s - still_since < STATIC_STILL_S):
        return None
    return (low + high) / 2.0


def container_warming_limit(picture: Picture, active: Active) -> Findings:
    """The container is warmer than it may be."""
    given = picture.course.setup.limits.container_temperature_k
    limit = CONTAINER_LIMIT_K if given is None else given
    temperature = picture.course.temperature_k("container/temperature")
    if temperature is None or not picture.live("container/temperature"):
        return NOTHING
    if temperature < limit - (2.0 if active else 0.0):
        return NOTHING
    return {
        "": f"The container is at {temperature - 273.15:.0f} °C, its limit is {limit - 273.15:.0f} °C; it can burst. "
        "Take the heat away and let it cool in the open."
    }


def hose_holds_liquid(picture: Picture, active: Active) -> Findings:
    """The container is about to be unscrewed from a hose full of liquid."""
    del active
    course, hose = picture.course, picture.hose
    if hose is None or hose.mass_kg < LIQUID_WORTH_RECOVERING_KG or course.valves.get("container") is not False:
        return NOTHING
    if course.setup.hose is not None and course.setup.hose.shutoff:
        return NOTHING
    return {
        "": f"The hose holds {_mass(hose)}. Recover it and weigh it before the hose is unscrewed; what sprays out "
        "freezes skin and eyes. It counts neither in the circuit nor in the container."
    }


def hose_not_declared(picture: Picture, active: Active) -> Findings:
    """Nobody said which hose is used."""
    del active
    if picture.course.hose is not None:
        return NOTHING
    return {"": "No hose is declared, so what it holds is unknown and counted as charged. Give its length and bore."}


def _mass(mass: HoldUp) -> str:
    return f"{mass.mass_kg * 1e3:.0f} ± {2.0 * mass.u_kg * 1e3:.0f} g"
