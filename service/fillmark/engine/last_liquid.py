"""When a container has given its last liquid.

A container whose liquid is drawn ends with vapour in it: its volume V times the density of saturated vapour, 10 to
20 g in a can of 340 g. Where V is not declared it is what the net mass fills, a new can being full of liquid to some
FILLED at FILLED_AT_K (common practice, no source). From then on it feeds vapour, and the liquid in the hose is pushed
into the circuit while the scale stands nearly still (`sweeping.py`). How much vapour stays is known to

    u² = LABEL_U_KG² + (VAPOUR_U vapour)²,    judged.

| the flow | what is left | then |
|---|---|---|
| goes on | no more than the vapour | it has run dry, and the flow ends |
| goes on all the same, DENIED_S later | | it has not: what is left of it is unknown, for a label may be wrong |
| has ended | no more than the vapour and 2 u | it has run dry, if 2 u is no more than TELLS_KG |
| has ended | the same, of a large cylinder | it may have, until even 2 u less than the vapour is left |
| has ended | unknown, or it should go on | it may have: a can may have been used before |

Where it may have, the hose holds anything from nothing to full.

Vapour pushes until the circuit's pressure is its own. By then (r_s - r) V has come out of the container, r_s being the
density of saturated vapour and r that at the circuit's pressure; and some of what lies in the hose has boiled,
C L + m c having cooled by half of the difference in temperature (letters as in `boiling.py`). Both have taken the room
of liquid. Judged. Where a pressure is unknown, half of what lies in the hose may stay or go.
"""

from __future__ import annotations

import math
from dataclasses import replace

from fillmark.engine.around import Conditions
from fillmark.engine.boiling import LIQUID_J_KGK, WALL_J_MK
from fillmark.engine.containers import Container
from fillmark.engine.course import Course
from fillmark.engine.evaporation import evaporation_j_kg
from fillmark.engine.hold_up import HoldUp
from fillmark.engine.hose import Feed, HoseContent
from fillmark.engine.weighing.valves import ran_out
from fillmark.refrigerants.protocol import OutOfRangeError, Refrigerant

FILLED = 0.75
FILLED_AT_K = 293.15
VAPOUR_U = 0.15
LABEL_U_KG = 3e-3
TELLS_KG = 10e-3

SLOW_S = 4.0
ENDED_KG_S = 0.3e-3
RESUMED_KG_S = 1e-3
"""A flow has ended that has been nearly nothing for so long, and is below that; above the last it has begun again."""

DENIED_S = 5.0
DENIED_KG_S = 3e-3
"""No vapour leaves a container that has been dry for so long that fast. Judged."""

CLEARLY_MORE = 1.2
"""The limit of what is pushed out rises with a circuit's pressure that falls, but not with a gauge that flickers."""

HALF = math.sqrt(math.log(2.0))
"""Of what lies in a hose, so much as a limit leaves half of it: see `sweeping.py`."""


def vapour_left_kg(container: Container, refrigerant: Refrigerant, temperature_k: float) -> float | None:
    """Mass of the saturated vapour that fills the container, kg; None: its volume is unknown, or no such vapour."""
    try:
        volume_m3 = container.water_capacity_m3
        if volume_m3 is None and container.net_kg is not None:
            volume_m3 = container.net_kg / (FILLED * refrigerant.saturated_liquid_density_kg_m3(FILLED_AT_K))
        return None if volume_m3 is None else volume_m3 * refrigerant.saturated_vapour_density_kg_m3(temperature_k)
    except OutOfRangeError:
        return None


def followed(course: Course, time_s: float) -> Course:
    """The course after a reading of the scale: the hose is fed with vapour once the container has run dry."""
    hose, container = course.hose, course.container
    if hose is None or container is None or hose.feed is not Feed.FED or hose.draw != "liquid":
        return course
    if hose.dry:
        return _still_dry(course, hose, container, time_s)
    around = course.around()
    dry = _has_run_dry(course, container, around, time_s)
    if not dry:
        return course if dry is hose.dry else replace(course, hose=replace(hose, dry=dry))
    sure = replace(hose, dry=False)
    held = replace(course, hose=sure).hold_up(time_s)
    sure = replace(sure, dried_at_k=sure.source_k(around, time_s))
    pushes_kg = _pushes_kg(course, container, held, sure)
    run_dry = sure.run_dry(held, around, time_s, pushes_kg)
    return replace(course, hose=run_dry, pan=ran_out(course.pan, time_s), account=course.account.released())


def _still_dry(course: Course, hose: HoseContent, container: Container, time_s: float) -> Course:
    """A dry container that liquid flows out of is none; and a circuit whose pressure falls takes more of the hose."""
    if time_s - hose.sweep.since_s >= DENIED_S and course.pan.flow_kg_s > DENIED_KG_S:
        return replace(course, hose=replace(hose, dry=False, mislabelled=True))
    if not course.circuit_open:
        return course
    pushes_kg = _pushes_kg(course, container, hose.sweep.wet, hose)
    if pushes_kg <= CLEARLY_MORE * hose.sweep.most_kg:
        return course
    return replace(course, hose=replace(hose, sweep=replace(hose.sweep, most_kg=pushes_kg)))


def _has_run_dry(course: Course, container: Container, around: Conditions, time_s: float) -> bool | None:
    """As the table says; None: it may have."""
    left_kg, flow_kg_s = around.container_left_kg, course.pan.flow_kg_s
    slow = course.slow_since_s is not None and time_s - course.slow_since_s >= SLOW_S
    ended = slow and flow_kg_s < ENDED_KG_S
    kelvin, refrigerant = around.container_or_air_k, course.setup.circuit.refrigerant
    vapour_kg = None if kelvin is None else vapour_left_kg(container, refrigerant, kelvin)
    known = left_kg is not None and vapour_kg is not None
    if left_kg is not None and vapour_kg is not None:
        u2_kg = 2.0 * math.hypot(LABEL_U_KG, VAPOUR_U * vapour_kg)
        tells = u2_kg <= TELLS_KG
        if left_kg <= vapour_kg - (0.0 if tells or flow_kg_s > DENIED_KG_S else u2_kg):
            return True
        if ended and left_kg <= vapour_kg + u2_kg:
            return True if tells else None
    if ended and (around.should_flow or not known):
        return None
    was_in_doubt = course.hose is not None and course.hose.dry is None
    return None if was_in_doubt and flow_kg_s < RESUMED_KG_S else False


def _pushes_kg(course: Course, container: Container, held: HoldUp, hose: HoseContent) -> float:
    """How much liquid can be pushed out of the hose that holds `held`, kg: see the head."""
    circuit_pa, kelvin = course.pressure_abs_pa(course.fed_channel), hose.dried_at_k
    refrigerant = course.setup.circuit.refrigerant
    vapour_kg = None if kelvin is None else vapour_left_kg(container, refrigerant, kelvin)
    if kelvin is None or circuit_pa is None or vapour_kg is None:
        return HALF * held.mass_kg
    try:
        warmer_k = kelvin - refrigerant.bubble_temperature_k(circuit_pa)
    except OutOfRangeError:
        return 0.0
    if warmer_k <= 0.0:
        return 0.0
    try:
        saturated = refrigerant.saturated_vapour_density_kg_m3(kelvin)
        thin = refrigerant.vapour_density_kg_m3(kelvin, circuit_pa)
        liquid = refrigerant.saturated_liquid_density_kg_m3(kelvin)
        heat = evaporation_j_kg(refrigerant, kelvin)
    except OutOfRangeError:
        return HALF * held.mass_kg
    expands_kg = vapour_kg * (saturated - thin) / saturated
    capacity = WALL_J_MK * hose.hose.length_m + LIQUID_J_KGK * held.mass_kg
    boils_kg = capacity * warmer_k / 2.0 / heat
    return (expands_kg + boils_kg) * liquid / thin
