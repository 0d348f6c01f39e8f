"""How each fact and each reading changes the course of a job.

* An action is refused only for what other actions made of the job, never for a reading: a reading that comes late
  must not make lawful what was refused, or the other way round.
* The mass of a container is learnt until it is first opened; hands and hoses move it until then.
* After every change the pan, the hose and the account are brought in line with the valves (`_aligned`).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from fillmark.engine import last_liquid
from fillmark.engine.containers import Container
from fillmark.engine.course import Course, EngineStart, Feeding
from fillmark.engine.errors import ActionRefusedError
from fillmark.engine.events import (
    BeginStep,
    CorrectCharge,
    ExplainStep,
    Fact,
    MountContainer,
    Note,
    PurgeHose,
    Reading,
    RecoverHose,
    SetEngine,
    SetValve,
    StateParticulars,
    UnmountContainer,
)
from fillmark.engine.fills import USUAL_PURGE_KG, booked, fill_opened, fill_shut, weighed_purge_kg
from fillmark.engine.hold_up import NOTHING
from fillmark.engine.hose import Feed
from fillmark.engine.latest import noted
from fillmark.engine.step_folds import STEP_FOLDS
from fillmark.engine.swerves import NONE_READ
from fillmark.engine.weighing.bench import shaken, shaken_when_weighed
from fillmark.engine.weighing.hands import explained, last_good, on_its_way, remounted
from fillmark.engine.weighing.path import Path
from fillmark.engine.weighing.valves import came_back, enter, let_stand, loosened, returning, throttled

STALLED_KG = 3e-3
"""Less than this within STALLED_AFTER_S (see `flow_conditions`) is nearly nothing. Common practice, no source."""

STEADY_S = 2.0


def fold(course: Course, event: Reading | Fact) -> Course:
    """The course after one more event, which must not be earlier than the last.

    Raises:
        ActionRefusedError: the action does not fit; the course is as it was.
    """
    moved = _FOLDS[type(event)](course, event)
    moved = replace(moved, time_s=max(course.time_s, event.time_s))
    stage = moved.stage
    if stage is None or isinstance(event, BeginStep):
        return moved
    seen = stage.read(moved, event) if isinstance(event, Reading) else stage.acted(moved, event)
    return moved if seen is stage else replace(moved, stage=seen)


def _reading(course: Course, event: Reading) -> Course:
    course = replace(course, latest=noted(course.latest, event.channel, event.time_s, event.value))
    if event.channel in {course.fed_channel, "container/temperature"} or course.pan.least_kg_s < 0.0:
        course = replace(course, pan=returning(course.pan, may_return=course.may_return))
    return _indicated(course, event) if event.channel == "scale/mass" else _probed(course, event)


def _probed(course: Course, event: Reading) -> Course:
    """Another channel than the scale's mass has spoken."""
    if event.channel == course.fed_channel:
        pressure_pa = course.pressure_abs_pa(event.channel)
        if pressure_pa is not None:
            return replace(course, pressures=course.pressures.read(event.time_s, pressure_pa))
    if event.channel == "container/temperature" and course.hose is not None:
        return replace(course, hose=course.hose.warmed(event.time_s, course.around()))
    if event.channel == "scale/stable":
        stillness = course.pan.stillness.told(event.time_s, still=event.value > 0.0)
        return replace(course, pan=replace(course.pan, stillness=stillness))
    return course


def _indicated(course: Course, event: Reading) -> Course:
    container = course.container
    if container is None or container.start_kg is None:
        course = replace(course, settling=course.settling.read(event.time_s, event.value))
    if container is None:
        return course
    shown_kg = -event.value if container.recovers else event.value
    if container.start_kg is not None and not container.recovers:
        shown_kg += course.settling.to_go_kg(event.time_s)
    course = _weighed(course, event.time_s, shown_kg)
    if container.start_kg is None:
        course = _aligned(course, event.time_s)
    if course.account.due(event.time_s, course.scale_lag_s, moving=bool(course.pan.suspects)):
        course = booked(course, event.time_s)
    return last_liquid.followed(_slowness(course, event.time_s), event.time_s)


def _weighed(course: Course, time_s: float, indication_kg: float) -> Course:
    """The scale has spoken. What the pan takes back of an earlier disturbance belongs to the fill that it fell into."""
    before = course.pan
    pan = shaken(before, time_s, indication_kg).take(time_s, indication_kg)
    swerve = pan.trend.swerve
    if swerve is not None and swerve is not before.trend.swerve:
        pan = came_back(pan, swerve, leant_on=course.leant_on(swerve.was, time_s, swerve.missed_kg))
    taken = _start_doubted(replace(course, pan=pan), time_s)
    account = course.account
    if before.pending_offset_kg == 0.0 or taken.pan.pending_offset_kg != 0.0 or account.fill is not None:
        return taken
    taken_back_kg = account.follows * (taken.dispensed().mass_kg - course.dispensed().mass_kg)
    feeding = course.feeding
    if feeding is not None:
        feeding = replace(feeding, dispensed_kg=feeding.dispensed_kg + taken_back_kg)
    account = replace(account, settled_kg=account.settled_kg + taken_back_kg)
    return replace(taken, account=account, feeding=feeding)


def _start_doubted(course: Course, time_s: float) -> Course:
    """A bench that is found to shake soon after the flow has begun has shaken when the container was weighed, too."""
    container, pan = course.container, course.pan
    if container is None or container.start_kg is None or pan.unrest.var <= container.start_var:
        return course
    if not shaken_when_weighed(pan, time_s):
        return course
    doubted = replace(container, start_var=pan.unrest.var)
    return replace(course, containers={**course.containers, container.id: doubted})


def _slowness(course: Course, time_s: float) -> Course:
    """Since when the open circuit has taken or given less than STALLED_KG: a mean, for a stepped scale flickers."""
    if not course.circuit_open:
        return course if course.slow_since_s is None else replace(course, slow_since_s=None)
    dispensed = course.dispensed().mass_kg
    if course.slow_since_s is None or abs(dispensed - course.slow_from_kg) >= STALLED_KG:
        return replace(course, slow_since_s=time_s, slow_from_kg=dispensed)
    return course


def _mount(course: Course, event: MountContainer) -> Course:
    if course.mounted is not None:
        raise ActionRefusedError(
            "container-on-the-pan", "container", f"{course.mounted} is on the pan; unmount it before {event.container}"
        )
    container = Container.mounted(event, course.containers.get(event.container))
    mounted = replace(
        course,
        mounted=container.id,
        containers={**course.containers, container.id: container},
        pan=remounted(course.pan, event.time_s),
    )
    return _aligned(mounted, event.time_s)


def _unmount(course: Course, event: UnmountContainer) -> Course:
    container = course.container
    if container is None:
        raise ActionRefusedError("no-container", "type", "no container is on the pan; mount one first")
    course = booked(replace(course, pan=last_good(course.pan, event.time_s)), event.time_s)
    off = container.taken_off(course.pan)
    valves = {**course.valves, "container": False} if course.valves.get("container") else course.valves
    kept = course.setup.hose is not None and course.setup.hose.shutoff
    held = course.hold_up(event.time_s)
    lost = 0.0 if kept else held.mass_kg
    hose = course.hose
    if hose is not None:
        feed = Feed.SHUT if kept and hose.feed is not Feed.EMPTY else Feed.EMPTY
        hose = hose.turned(feed, course.around(), event.time_s, container.draw, held)
    account = course.account if kept else course.account.parted().lost()
    unmounted = replace(
        course,
        mounted=None,
        containers={**course.containers, off.id: off},
        valves=valves,
        hose=hose,
        feeding=None,
        account=replace(account, lost_kg=account.lost_kg + lost),
    )
    return _aligned(unmounted, event.time_s)


def _valve(course: Course, event: SetValve) -> Course:
    turned = replace(course, valves={**course.valves, event.valve: event.open}, pressures=NONE_READ)
    if event.open and not course.circuit_open and turned.circuit_open:
        turned = replace(turned, slow_since_s=event.time_s, slow_from_kg=course.dispensed().mass_kg)
    aligned = _aligned(turned, event.time_s)
    pan = aligned.pan
    clears_s = 0.0 if aligned.hose is None else aligned.hose.clears_s
    if event.open:
        return replace(aligned, pan=loosened(pan, event.time_s, clears_s))
    ends = course.circuit_open and not aligned.circuit_open
    return replace(aligned, pan=throttled(pan, event.time_s, ends=ends))


def _purge(course: Course, event: PurgeHose) -> Course:
    account = course.account
    if event.mass_kg is None and not course.valves_recorded:
        doubt = USUAL_PURGE_KG**2 / 3.0 if account.fill is not None else 0.0
        return replace(course, account=replace(account, hose_var=account.hose_var + doubt))
    if course.circuit_open and event.mass_kg is None:
        raise ActionRefusedError(
            "circuit-open", "mass", "the circuit is open, so a purge cannot be weighed; shut it first, or give the mass"
        )
    if course.circuit_open and account.fill is not None and event.mass_kg is not None:
        fill = replace(account.fill, dispensed_start_kg=account.fill.dispensed_start_kg + event.mass_kg)
        return replace(course, account=replace(account, fill=fill, purged_kg=account.purged_kg + event.mass_kg))
    course = booked(course, event.time_s)
    held = course.hold_up(event.time_s)
    feeding = course.feeding
    if event.mass_kg is not None:
        purged = event.mass_kg
        if feeding is not None:
            feeding = replace(feeding, dispensed_kg=feeding.dispensed_kg + purged)
    else:
        purged, doubt_kg = weighed_purge_kg(course, held)
        if feeding is not None:
            doubt_kg = math.hypot(feeding.doubt_kg, doubt_kg)
            feeding = replace(feeding, dispensed_kg=feeding.dispensed_kg + purged, doubt_kg=doubt_kg)
    return replace(
        course, feeding=feeding, account=replace(course.account, purged_kg=course.account.purged_kg + purged)
    )


def _engine(course: Course, event: SetEngine) -> Course:
    start = course.engine_start
    if event.running and not course.engine_running:
        start = EngineStart(event.time_s, course.pressure_abs_pa("low/pressure"))
    return replace(course, engine_running=event.running, engine_start=start)


def _recover_hose(course: Course, event: RecoverHose) -> Course:
    if course.valves_recorded and course.circuit_open:
        raise ActionRefusedError("circuit-open", "type", "the circuit is open to the hose; shut its valve first")
    course = booked(course, event.time_s)
    held = course.hold_up(event.time_s)
    mass = held.mass_kg if event.mass_kg is None else event.mass_kg
    account = replace(course.account, recovered_kg=course.account.recovered_kg + mass)
    if event.mass_kg is not None and course.hose is not None and course.hose.feed is Feed.EMPTY:
        found = min(mass, account.lost_kg)
        account = replace(account, lost_kg=account.lost_kg - found, settled_kg=account.settled_kg + found - mass)
    elif event.mass_kg is not None:
        r_var = course.setup.scale.resolution_kg**2 / 6.0
        account = replace(
            account,
            settled_kg=account.settled_kg + held.mass_kg - event.mass_kg,
            end_var=r_var,
        )
    hose = course.hose
    if hose is not None:
        hose = hose.turned(Feed.EMPTY, course.around(), event.time_s, hose.draw)
    recovered = replace(course, hose=hose, account=account.parted().released(), feeding=None)
    return recovered if course.valves_recorded else _aligned(recovered, event.time_s)


def _explain(course: Course, event: ExplainStep) -> Course:
    return replace(course, pan=explained(course.pan, as_refrigerant=event.was == "refrigerant"))


def _correct(course: Course, event: CorrectCharge) -> Course:
    return replace(course, account=replace(course.account, corrected_kg=course.account.corrected_kg + event.mass_kg))


def _note(course: Course, event: Note) -> Course:
    return replace(course, notes=(*course.notes, event))


def _particulars(course: Course, event: StateParticulars) -> Course:
    return replace(course, particulars={**course.particulars, **event.fields})


def _aligned(course: Course, time_s: float) -> Course:
    """Bring pan, account and hose in line with the valves."""
    fed = _wants_feeding(course, time_s)
    before_kg = course.dispensed().mass_kg
    if fed:
        course = _first_opened(course, time_s)
    unseen_kg = 0.0 if course.valves_recorded else course.dispensed().mass_kg - before_kg
    container = course.container
    opened = container is not None and container.start_kg is not None
    path = Path.OPEN if fed else Path.SHUT if opened else Path.HANDLED
    ended_s = None if course.account.fill is None else course.account.fill.shut_at_s
    course = replace(course, pan=returning(enter(course.pan, path, time_s, ended_s), may_return=course.may_return))
    course = _hose_aligned(_account_aligned(course, time_s), time_s, fed=fed)
    return _back_dated(course, unseen_kg) if unseen_kg > 0.0 else course


def _back_dated(course: Course, unseen_kg: float) -> Course:
    """The fill began before anybody knew of it: no valve told it, only the mass that had left by then."""
    account, feeding = course.account, course.feeding
    if account.fill is not None:
        fill = replace(account.fill, dispensed_start_kg=account.fill.dispensed_start_kg - unseen_kg)
        account = replace(account, fill=fill)
    if feeding is not None:
        feeding = replace(feeding, dispensed_kg=feeding.dispensed_kg - unseen_kg)
    return replace(course, account=account, feeding=feeding)


def _account_aligned(course: Course, time_s: float) -> Course:
    if course.circuit_open:
        fill = course.account.fill
        if fill is None or fill.shut_at_s is not None:
            return fill_opened(booked(course, time_s), time_s)
        return course
    return fill_shut(course, time_s)


def _wants_feeding(course: Course, time_s: float) -> bool:
    """Whether the container on the pan feeds the hose, its mass being known well enough to begin."""
    container = course.container
    if container is None or course.pan.readings == 0:
        return False
    steady = container.start_kg is not None or time_s - course.pan.rest.since_s >= STEADY_S
    if "container" in course.valves:
        return course.valves["container"]
    if not course.valves_recorded:
        return container.start_kg is not None or course.pan.rest.left_from_kg is not None
    return course.circuit_open and (steady or course.pan.readings > 1)


def _first_opened(course: Course, time_s: float) -> Course:
    container = course.container
    if container is None or container.start_kg is not None:
        return course
    known = replace(course, settling=course.settling.measured(time_s, course.setup.scale.resolution_kg))
    pan, doubt_kg = replace(let_stand(course.pan, time_s), lag_s=known.scale_lag_s), 0.0
    if pan.rest.left_from_kg is None and not container.recovers:
        pan, doubt_kg = on_its_way(pan, time_s, known.settling)
    opened = container.opened(pan.weighed_at(time_s), doubt_kg)
    account = replace(course.account, first=True)
    if course.circuit_open and not container.recovers:
        account = account.pulled(1.0)
    return replace(known, pan=pan, account=account, containers={**course.containers, opened.id: opened})


def _hose_aligned(course: Course, time_s: float, *, fed: bool) -> Course:
    hose, container = course.hose, course.container
    if hose is None or (container is not None and container.recovers):
        return course
    if fed:
        feed = Feed.FED
    elif hose.feed is Feed.EMPTY:
        feed = Feed.EMPTY
    else:
        feed = Feed.PULLED if course.circuit_open else Feed.SHUT
    if feed is hose.feed:
        return course
    if feed is Feed.FED and not course.circuit_open:
        course = booked(course, time_s)
    before = NOTHING if hose.feed is Feed.EMPTY else course.hold_up(time_s)
    draw = hose.draw if container is None else container.draw
    turned = replace(course, hose=hose.turned(feed, course.around(), time_s, draw, before))
    if feed is Feed.PULLED:
        return replace(turned, feeding=None, account=turned.account.released())
    if feed is Feed.SHUT:
        return turned
    return replace(turned, feeding=Feeding(time_s, turned.dispensed().mass_kg, before))


_FOLDS: Mapping[type, Callable[[Course, Any], Course]] = {
    Reading: _reading,
    **STEP_FOLDS,
    MountContainer: _mount,
    UnmountContainer: _unmount,
    SetValve: _valve,
    PurgeHose: _purge,
    SetEngine: _engine,
    RecoverHose: _recover_hose,
    ExplainStep: _explain,
    CorrectCharge: _correct,
    Note: _note,
    StateParticulars: _particulars,
}
