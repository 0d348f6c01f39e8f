"""A fill: what is booked when the circuit is opened to the hose, and when it is shut again.

At both moments the hose's content decides, and scale and model know different things of it. Liquid is weighed. Vapour
is reckoned; what of it has condensed in a cold hose is weighed and reckoned together.
"""

from __future__ import annotations

import math
from dataclasses import replace

from fillmark.engine.account import STILL_PULLS, Pause, Shut
from fillmark.engine.course import Course, Feeding
from fillmark.engine.hold_up import HoldUp, disagree, weight
from fillmark.engine.hose import Feed
from fillmark.engine.weighing.suspicion import GATE_STEPS
from fillmark.engine.weighing.trend import PAUSE_SHARE

ENTERED_LATE_S = 0.3
ENTERED_LATE_U_S = ENTERED_LATE_S / math.sqrt(3.0)
"""People turn the valve and enter it up to 0.6 s later, rectangular. Common practice, no source."""

FILLED_FLOW_KG_S = 0.5e-3
"""A hose that still takes more is not full yet."""

FED_SETTLED_S = 3.0

STILL_S = 1.5
"""What has filled the hose stands still for so long before the circuit is opened. Judged."""

USUAL_PURGE_KG = 1.5e-3
USUAL_PURGE_U_KG = 0.5e-3
"""A second or two of vapour through a loosened fitting. Common practice, no source."""

LONGER_PURGE_SHARE_U = 0.05
"""Of what is taken to have condensed in the hose, so much may have been purged after all. Judged."""


def fill_opened(course: Course, time_s: float) -> Course:
    """Open the circuit: note what the hose holds, from the scale where that knows better than the model."""
    hose, feeding = course.hose, course.feeding
    held = course.hold_up(time_s)
    if hose is None or hose.feed is not Feed.FED or feeding is None:
        account = course.account.opened(course.dispensed().mass_kg, held.mass_kg, 0.0)
        return replace(course, account=account if course.valves_recorded else account.pulled(1.0))
    around = course.around()
    full = hose.full(around)
    settled = time_s - feeding.since_s >= FED_SETTLED_S
    still = settled and course.pan.flow_kg_s <= FILLED_FLOW_KG_S
    seen = course.seen_in_hose_kg()
    account = course.account
    u_scale = math.sqrt(sum(_opened_and_now_var(course)))
    wet_feed = hose.fed_with == "liquid"
    if wet_feed or (feeding.held.mass_kg > 0.0 and seen - held.mass_kg > 2.0 * u_scale):
        mass = course.seen_at_most_kg(full) if wet_feed else seen
        start, of_scale = HoldUp(mass, math.hypot(feeding.held.u_kg, feeding.doubt_kg)), 1.0
        doubt_kg = feeding.doubt_kg
    else:
        start, doubt_kg, of_scale = _vapour_start(course, held, HoldUp(seen, u_scale), settled=settled)
        account = account.parted()
    hidden = wet_feed and settled
    pulls = STILL_PULLS if hidden else max(of_scale, STILL_PULLS)
    account = account if wet_feed else account.released()
    account = account.opened(course.dispensed().mass_kg, start.mass_kg, doubt_kg).pulled(pulls, hidden=hidden)
    whole = still and full is not None and abs(seen - full.mass_kg) <= 0.2 * full.mass_kg
    return replace(course, account=account, hose=hose.opened(start, around, time_s, whole=whole))


def _vapour_start(course: Course, vapour: HoldUp, by_scale: HoldUp, *, settled: bool) -> tuple[HoldUp, float, float]:
    """What a hose of vapour holds when the circuit is opened: what the model says and what the scale has seen.

    Both are weighed by their uncertainties. A scale that has not settled has seen a part only. Where they disagree the
    scale is believed: a clamp that lags or lies misleads the model.

    Also what of the uncertainty, kg, is new to the charge, see `_new_kg`; and the weight of the scale.
    """
    hose, feeding = course.hose, course.feeding
    if hose is None or feeding is None:
        return vapour, vapour.u_kg, 0.0
    seen = HoldUp(by_scale.mass_kg, math.hypot(by_scale.u_kg, feeding.doubt_kg))
    wet = hose.condensed(course.around(), used=course.account.settled_kg > 0.0)
    if wet is None or feeding.held.mass_kg > 0.0:
        condensed = seen.mass_kg - vapour.mass_kg > 2.0 * seen.u_kg
        return (seen, feeding.doubt_kg, 1.0) if condensed else (vapour, _new_kg(course, vapour, 0.0), 0.0)
    model = HoldUp(vapour.mass_kg + wet.mass_kg, math.hypot(vapour.u_kg, wet.u_kg))
    if not settled:
        model = HoldUp(model.mass_kg / 2.0, math.hypot(model.u_kg, model.mass_kg / math.sqrt(12.0)))
    if disagree(seen, model):
        return seen, feeding.doubt_kg, 1.0
    of_scale = weight(seen, model)
    mass = max(model.mass_kg + of_scale * (seen.mass_kg - model.mass_kg), 0.0)
    u = math.sqrt(of_scale) * seen.u_kg
    return HoldUp(mass, u), _new_kg(course, model, of_scale), of_scale


def _new_kg(course: Course, model: HoldUp, of_scale: float) -> float:
    """What the start of a fill adds to the uncertainty of the charge, kg, the scale having had that weight in it.

    What the scale shows now is in the mass dispensed too, with the opposite sign (correlated quantities, JCGM 100:2008
    section 5.2). With indications z of the container when it was opened, now and in the end, weight w and model M

        charge = w z_opened + (1 - w) z_now - z_end + (1 - w) M

    and the mass dispensed has the uncertainties of z_opened and z_end anyway: of its first fill, that is.
    """
    feeding = course.feeding
    opened_var, now_var = _opened_and_now_var(course)
    share = 1.0 - of_scale
    more = share * share * now_var - ((1.0 - of_scale * of_scale) * opened_var if course.account.first else 0.0)
    doubt_kg = 0.0 if feeding is None else feeding.doubt_kg
    return math.hypot(share * model.u_kg, of_scale * doubt_kg, math.sqrt(max(more, 0.0)))


def _opened_and_now_var(course: Course) -> tuple[float, float]:
    """Variances of the indications between which the hose was filled, kg²."""
    container, pan, scale = course.container, course.pan, course.latest.get("scale/mass")
    interval_s = None if scale is None else scale.interval_s
    readings = max(STILL_S / interval_s, 1.0) if interval_s else 1.0
    now_var = min(pan.weighed_var, pan.stillness.mean_var(pan.resolution_kg, readings))
    return (container.start_var if container is not None and course.account.first else now_var), now_var


def fill_shut(course: Course, time_s: float) -> Course:
    """Shut the circuit.

    The scale settles first. An open container goes on to press refrigerant into the hose, which is no charge: what has
    gone in by now is reckoned from the flow.
    """
    fill = course.account.fill
    if fill is None or fill.shut_at_s is not None:
        return course
    if course.hose is None or course.hose.feed is not Feed.FED:
        return replace(course, account=course.account.shut(time_s))
    held = course.hose.now(replace(course.around(), flow_kg_s=max(course.pan.flow_kg_s, 0.0)), time_s)
    dispensed = course.dispensed().mass_kg + course.pan.flow_kg_s * (course.pan.unread_s(time_s) - ENTERED_LATE_S)
    u_offset = course.pan.offset_doubt_kg if course.pan.pending_offset_kg != 0.0 else 0.0
    u_late = ENTERED_LATE_U_S * course.pan.flow_kg_s
    reckoned = HoldUp(dispensed, math.hypot(math.sqrt(course.pan.weighed_var), u_late, u_offset))
    full = course.hose.filled(course.around()) or held
    room_kg = max(full.mass_kg - held.mass_kg, 0.0)
    hidden_kg = course.pan.trend.hidden_kg(time_s)
    pause = Pause(hidden_kg, max(GATE_STEPS * course.pan.step_kg, PAUSE_SHARE * hidden_kg))
    then = Shut(reckoned, held, room_kg, course.setup.scale.resolution_kg / math.sqrt(6.0), pause)
    feeding = Feeding(time_s, dispensed, held)
    hose = course.hose.shut_off(course.around(), time_s)
    return replace(course, account=course.account.shut(time_s, then), feeding=feeding, hose=hose)


def booked(course: Course, time_s: float) -> Course:
    """Book the present fill, if any, with what the hose holds now."""
    if course.account.fill is None:
        return course
    dispensed_kg, feeding = course.dispensed().mass_kg, course.feeding
    account = course.account.booked(dispensed_kg, course.hold_up(time_s), course.pan.weighed_var)
    if course.account.fill.shut is not None and feeding is not None:
        feeding = replace(feeding, dispensed_kg=course.account.fill.ended(dispensed_kg).mass_kg)
    return replace(course, account=account, feeding=feeding)


def weighed_purge_kg(course: Course, held: HoldUp) -> tuple[float, float]:
    """What was purged, and its standard uncertainty, kg.

    What left the container and is not vapour in the hose was purged or has condensed in the hose. The scale cannot
    tell both apart: up to a usual purge it counts as purged, the rest as condensed.
    """
    excess = max(course.seen_in_hose_kg() - held.mass_kg, 0.0)
    purged = min(excess, USUAL_PURGE_KG)
    usual = min(USUAL_PURGE_U_KG, excess / math.sqrt(3.0))
    return purged, math.hypot(usual, LONGER_PURGE_SHARE_U * (excess - purged))
