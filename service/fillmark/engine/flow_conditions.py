"""Conditions of the flow out of a container: there is nothing left to flow, it has stalled, or it has turned."""

from __future__ import annotations

from fillmark.engine.conditions import LET_GO_KG, NOTHING, Active, Findings
from fillmark.engine.picture import Picture
from fillmark.engine.plan import grams

STALLED_AFTER_S = 20.0

HOSE_EMPTY_KG = 2e-3
"""So little liquid in the hose is not worth waiting for. Judged."""

REVERSED_KG_S = 0.3e-3
LET_BACK_KG_S = 0.1e-3
REVERSED_STAYS_S = 5.0


def container_empty(picture: Picture, active: Active) -> Findings:
    """What can be drawn from the container is drawn: all of it, or all of its liquid, and the hose has emptied too."""
    course = picture.course
    container = course.container
    if container is None or container.start_kg is None:
        return NOTHING
    drawable = container.drawable_kg(course.pan)
    if drawable is None:
        return NOTHING
    hose = course.hose
    if hose is not None and hose.dry and course.circuit_open:
        wet = hose.still_wet(course.around(), picture.now_s)
        if wet.mass_kg > HOSE_EMPTY_KG or (picture.flow_kg_s or 0.0) > 0.5e-3:
            return NOTHING
        left = grams(max(drawable, 0.0))
        return {
            container.id: f"{container.id} has no more liquid, and the hose has emptied: {left} of vapour are left. "
            "Shut its valve and change it."
        }
    step = course.setup.scale.resolution_kg
    bound = max(4.0 * step, 8e-3) if container.id in active else max(2.0 * step, 3e-3)
    if drawable > bound or (picture.flow_kg_s or 0.0) > 0.5e-3:
        return NOTHING
    return {container.id: f"{container.id} is empty: {grams(drawable)} can be drawn. Shut its valve and change it."}


def flow_reversed(picture: Picture, active: Active) -> Findings:
    """Refrigerant flows back: the pressures let it, and the container grows heavier."""
    container = picture.course.container
    if container is None or not _flows_back(picture, LET_BACK_KG_S if container.id in active else REVERSED_KG_S):
        return NOTHING
    around = picture.course.around()
    circuit, saturated = around.circuit_pressure_pa or 0.0, around.container_pressure_pa or 0.0
    return {
        container.id: f"Refrigerant flows back into {container.id}: circuit {circuit / 1e5:.1f} bar, container about "
        f"{saturated / 1e5:.1f} bar absolute. Shut the valve until the circuit's pressure is below the container's."
    }


def _flows_back(picture: Picture, bound_kg_s: float) -> bool:
    course = picture.course
    needed = ("scale/mass", "container/temperature", course.fed_channel)
    may = course.pan.least_kg_s < 0.0 and all(picture.live(channel) for channel in needed)
    return may and course.pan.flow_kg_s <= -bound_kg_s


def flow_stalled(picture: Picture, active: Active) -> Findings:
    """The circuit is open, more is wanted, and nearly nothing flows."""
    course = picture.course
    since = course.slow_since_s
    if since is None or picture.now_s < since + STALLED_AFTER_S or not picture.live("scale/mass"):
        return NOTHING
    if course.mounted is None or not course.circuit_open or course.valves.get("container") is False:
        return NOTHING
    if picture.charged.mass_kg >= course.setup.aim_kg - LET_GO_KG or container_empty(picture, active):
        return NOTHING
    if _flows_back(picture, REVERSED_KG_S):
        return NOTHING
    return {"": f"Nothing flows although the valve is open; {grams(picture.charged.mass_kg)} are in. {_why(picture)}"}


def _why(picture: Picture) -> str:
    around = picture.course.around()
    circuit, container = around.circuit_pressure_pa, around.container_pressure_pa
    read = picture.live("container/temperature") and picture.live(picture.course.fed_channel)
    if circuit is None or container is None or not read:
        return "The container may be cold or empty, or a valve shut. Warm it in water below 40 °C, never with a flame."
    stand = f"Container about {container / 1e5:.1f} bar, circuit {circuit / 1e5:.1f} bar absolute. "
    if around.should_flow:
        return stand + "It should flow: a valve may be shut, or the scale takes so slow a loss for its zero."
    return stand + "Warm the container in water below 40 °C, never with a flame; do not open the high side to it."
