"""Conditions of the stop points that belong to recovery, pressure test, evacuation and blends. See `conditions`."""

from __future__ import annotations

from fillmark.engine.conditions import NOTHING, Active, Findings
from fillmark.engine.picture import Picture
from fillmark.engine.stages.recovery import contents_kg, fill_limit_kg, practice_limit_kg
from fillmark.engine.steps import Step

BEFORE_FULL_SHARE = 0.95
"""The stop comes before the limit, for the machine runs on and the scale lags."""


def blend_as_vapour(picture: Picture, active: Active) -> Findings:
    """A zeotropic blend leaves its container as vapour."""
    del active
    course = picture.course
    container, refrigerant = course.container, course.setup.circuit.refrigerant
    if container is None or container.recovers or container.draw != "vapour" or not refrigerant.zeotropic:
        return NOTHING
    if not course.circuit_open:
        return NOTHING
    return {
        "": f"{refrigerant.name} is a zeotropic blend and is drawn as vapour: its light part goes first. Shut the "
        "valve and turn the container so that liquid is drawn."
    }


def cylinder_fill_limit(picture: Picture, active: Active) -> Findings:
    """The recovery cylinder comes near the mass at which it would be full of liquid at 55 °C."""
    del active
    course = picture.course
    container, refrigerant = course.container, course.setup.circuit.refrigerant
    if container is None or not container.recovers or container.water_capacity_m3 is None:
        return NOTHING
    limit = fill_limit_kg(refrigerant, container.water_capacity_m3)
    contents = contents_kg(container, course)
    if limit is None or contents is None or contents < BEFORE_FULL_SHARE * limit:
        return NOTHING
    practice = practice_limit_kg(refrigerant, container.water_capacity_m3)
    beside = "" if practice is None else f" (80 % by practice: {practice:.2f} kg)"
    return {
        container.id: f"{container.id} holds {contents:.2f} kg of {refrigerant.name}; the most it may "
        f"hold is {limit:.2f} kg{beside}. Stop the recovery machine and change the cylinder."
    }


def gauge_reading_impossible(picture: Picture, active: Active) -> Findings:
    """A pressure lies below what the atmosphere allows."""
    del active
    found = {}
    for channel in ("low/pressure", "high/pressure", "vacuum/pressure"):
        why = picture.course.refused_pressure(channel)
        if why is not None:
            found[channel] = f"{channel} is not used. {why}"
    return found


def nitrogen_limit(picture: Picture, active: Active) -> Findings:
    """Nitrogen at or above the limit of the weakest component."""
    course = picture.course
    limit = course.setup.limits.test_pressure_abs_pa
    if limit is None or course.step is not Step.PRESSURE_TEST:
        return NOTHING
    seen = [course.pressure_abs_pa(name) for name in ("low/pressure", "high/pressure") if picture.live(name)]
    pressure = max((p for p in seen if p is not None), default=None)
    if pressure is None or pressure < limit * (0.97 if active else 1.0):
        return NOTHING
    return {
        "": f"Test pressure {pressure / 1e5:.1f} bar absolute, limit {limit / 1e5:.1f} bar: the weakest component "
        "bursts. Shut the nitrogen and let the pressure down."
    }
