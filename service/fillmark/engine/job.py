"""One job: entries of the log in, state and outputs out.

* Facts and readings take their place in time (`timeline`); stop points live in the order of the log, because what was
  shown to the technician was shown.
* Stop points are judged once an entry, at the entry's time of arrival. A tick is an entry without events.
* `wake_at_s` says when the next tick is due: a prediction falls due or a channel turns stale while nothing arrives.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

from fillmark.engine import alarm_life
from fillmark.engine.alarm_life import Life, Trigger
from fillmark.engine.closings import NO_CALLS, CallWatch, Closing
from fillmark.engine.conditions import Findings, evacuated_start_ends_s
from fillmark.engine.course import Course
from fillmark.engine.delay import NO_DELAY, Delay
from fillmark.engine.errors import ActionRefusedError, HistoryNeededError
from fillmark.engine.events import CloseJob, EndStep, Entry, OpenJob, Reading, TreatStopPoint
from fillmark.engine.flow_conditions import STALLED_AFTER_S
from fillmark.engine.picture import Picture, picture
from fillmark.engine.silence import is_needed, silent_scale_at_s
from fillmark.engine.stop_points import STOP_POINTS, Scope, StopPoint, looked_at
from fillmark.engine.timeline import Item, Timeline

CLOSE_CALL = "close-valve-now"
CONTAINER_EMPTY = "container-empty"

Key = tuple[str, str]
"""Stop-point id and subject."""

TREATMENTS: Mapping[str, Trigger] = {
    "acknowledge": Trigger.ACKNOWLEDGE,
    "reset": Trigger.RESET,
    "shelve": Trigger.SHELVE,
    "unshelve": Trigger.UNSHELVE,
}
IDEMPOTENT = {Trigger.ACKNOWLEDGE: frozenset({Life.ACKNOWLEDGED_ACTIVE, Life.NORMAL, Life.LATCHED_ACKNOWLEDGED})}
"""Acknowledging what another display has acknowledged, or what has gone meanwhile, is no error."""


@dataclass(frozen=True, slots=True)
class Transition:
    """An output: a stop point has gone from one state to another."""

    position: int
    at_s: float
    id: str
    subject: str
    before: Life
    after: Life
    text: str


@dataclass(frozen=True, slots=True)
class Point:
    """A stop point that is not simply normal.

    Attributes:
        raised_s: when it was last raised; `text`: what it said then.
        until_s: until when it is put aside.
        over_s: when it ends unless its condition comes back before; None: the condition holds, or it has ended.
    """

    life: Life
    raised_s: float
    text: str
    until_s: float | None = None
    over_s: float | None = None


@dataclass(frozen=True, slots=True)
class Job:
    """One job as of `now_s` and log position `position`.

    Attributes:
        points: stop points in any state but normal.
        journal: every transition so far.
        wake_at_s: when a tick is due; None: nothing changes by waiting.
        dropped: readings from before the job was opened.
        delay: how late the scale's indications are.
        watch: what is seen of how fast the valve is shut on a call.
    """

    id: str
    bay: str
    opened_s: float
    opened_position: int
    timeline: Timeline
    now_s: float
    position: int
    picture: Picture
    closed_s: float | None = None
    points: Mapping[Key, Point] = field(default_factory=dict)
    journal: tuple[Transition, ...] = ()
    wake_at_s: float | None = None
    dropped: int = 0
    delay: Delay = NO_DELAY
    watch: CallWatch = NO_CALLS

    @property
    def technician(self) -> str | None:
        """Who does the job, as entered for the record, or else as declared at the opening."""
        return self.course.particulars.get("technician") or self.course.setup.technician

    @property
    def closings(self) -> tuple[Closing, ...]:
        """How long the valve took to be shut after each call; the last call counts once the job is closed."""
        return self.watch.closings

    @property
    def course(self) -> Course:
        """The job in order of time."""
        return self.timeline.course

    @property
    def active(self) -> tuple[Key, ...]:
        """Active stop points, the most pressing first."""
        order = list(STOP_POINTS)
        keys = [key for key, point in self.points.items() if point.life in alarm_life.ACTIVE]
        return tuple(sorted(keys, key=lambda key: (order.index(key[0]), key[1])))


def opened(job_id: str, entry: Entry, event: OpenJob, most_chunks: int | None = None) -> Job:
    """A job just opened by `entry`, which keeps so many chunks of its events; None: all."""
    timeline = Timeline.begun(Course.begun(event.setup, event.time_s), most_chunks)
    now = max(entry.received_s, event.time_s)
    return Job(
        id=job_id,
        bay=entry.bay,
        opened_s=event.time_s,
        opened_position=entry.position,
        timeline=timeline,
        now_s=now,
        position=entry.position,
        picture=picture(timeline.course, now),
    )


def step(job: Job, entry: Entry) -> tuple[Job, tuple[Transition, ...]]:
    """Take one entry.

    Raises:
        ActionRefusedError: an action does not fit; the job is as it was.
        HistoryNeededError: an event is too late for what the job still holds; the job is as it was.
    """
    sorted_out = _sorted_out(job, entry)
    timeline = _told(job, sorted_out.items)
    closing = sorted_out.closing
    if closing is not None and timeline.course.step is not None:
        timeline = timeline.with_items([EndStep(max(closing.time_s, timeline.course.time_s))])
    now = max(job.now_s, entry.received_s)
    delay = _delay(job, entry)
    moved = _judged(
        replace(
            job,
            timeline=timeline,
            now_s=now,
            position=entry.position,
            picture=picture(timeline.course, now, delay),
            closed_s=job.closed_s if closing is None else closing.time_s,
            delay=delay,
            watch=job.watch.heard(sorted_out.items),
            dropped=job.dropped + sorted_out.dropped,
        )
    )
    for treatment in sorted_out.treatments:
        moved = _treated(moved, treatment)
    news = moved.journal[len(job.journal) :]
    return replace(moved, watch=_watched(moved, news), wake_at_s=_wake_at_s(moved)), news


def completed(job: Job, entry: Entry, readings: Sequence[Reading]) -> Job:
    """A closed job with readings of its own time that came only after it was closed. No stop point speaks again.

    Raises:
        HistoryNeededError: one is too late for what the job still holds.
    """
    timeline = _told(job, readings)
    shown = picture(timeline.course, job.now_s, job.delay)
    return replace(job, timeline=timeline, position=entry.position, picture=shown)


def archived(job: Job) -> Job:
    """A closed job that takes no more readings: its events are dropped, its state stays."""
    return replace(job, timeline=job.timeline.cut(0))


def _told(job: Job, items: Sequence[Item]) -> Timeline:
    if not job.timeline.reaches(items):
        raise HistoryNeededError(job.id)
    return job.timeline.with_items(items)


def _delay(job: Job, entry: Entry) -> Delay:
    """The delays after one more entry, which counts if it brings an indication newer than all before."""
    known = job.course.latest.get("scale/mass")
    newest = -math.inf if known is None else known.time_s
    times = [e.time_s for e in entry.events if isinstance(e, Reading) and e.channel == "scale/mass"]
    return job.delay.heard(entry.received_s, max(times)) if times and max(times) > newest else job.delay


def _watched(job: Job, news: Sequence[Transition]) -> CallWatch:
    """The job's watch after what its stop points did."""
    watch, scale = job.watch, (job.course.setup.scale.resolution_kg, job.course.scale_lag_s)
    for moved in news:
        if moved.after not in alarm_life.ACTIVE or moved.before in alarm_life.ACTIVE:
            continue
        if moved.id == CLOSE_CALL:
            watch = watch.concluded(*scale).called(moved.at_s, job.delay.least_s or 0.0)
        elif moved.id == CONTAINER_EMPTY:
            watch = watch.emptied()
    return watch if job.closed_s is None else watch.concluded(*scale)


@dataclass(slots=True)
class _SortedOut:
    """The events of one entry by what is done with them."""

    items: list[Item] = field(default_factory=list)
    treatments: list[TreatStopPoint] = field(default_factory=list)
    closing: CloseJob | None = None
    dropped: int = 0


def _sorted_out(job: Job, entry: Entry) -> _SortedOut:
    out = _SortedOut()
    for event in entry.events:
        closed = job.closed_s is not None or out.closing is not None
        if isinstance(event, Reading):
            if event.time_s < job.opened_s or (out.closing is not None and event.time_s > out.closing.time_s):
                out.dropped += 1
            else:
                out.items.append(event)
        elif closed:
            raise ActionRefusedError("job-closed", "type", f"the job {job.id} is closed; open a new one")
        elif isinstance(event, CloseJob):
            out.closing = event
        elif isinstance(event, TreatStopPoint):
            out.treatments.append(event)
        elif isinstance(event, OpenJob):
            raise ActionRefusedError("job-open", "type", f"the job {job.id} is open in this bay; close it first")
        else:
            out.items.append(event)
    return out


def _judged(job: Job) -> Job:
    """Bring every stop point in line with its condition. What moves one stop point moves no other."""
    known: dict[str, dict[Key, Point]] = {}
    for key, point in job.points.items():
        known.setdefault(key[0], {})[key] = point
    looked = {scope: looked_at(scope, job.picture) for scope in Scope}
    for row in STOP_POINTS.values():
        mine = known.get(row.id, {})
        speaking = [key[1] for key, point in mine.items() if point.life in alarm_life.ACTIVE] if mine else []
        found = row.condition(job.picture, speaking) if looked[row.scope] else {}
        if mine or found:
            job = _row_judged(job, row, mine, found)
    return job


def _row_judged(job: Job, row: StopPoint, mine: Mapping[Key, Point], found: Findings) -> Job:
    """The job with one stop point, whose points are `mine`, in line with what its condition has found."""
    for key, point in mine.items():
        if point.until_s is not None and job.now_s >= point.until_s:
            job = _moved(job, key, Trigger.UNSHELVE, "The time for which it was put aside is over.")
    whole = job.points.get((row.id, ""))
    for subject, text in found.items():
        if whole is not None and whole.life in alarm_life.ASIDE:
            break
        job = _moved(job, (row.id, subject), Trigger.RAISE, text)
    for key, point in mine.items():
        if point.life not in alarm_life.ACTIVE:
            continue
        over_s = None if key[1] in found else _over_s(job, row, point)
        if over_s is not None and job.now_s >= over_s:
            clear = Trigger.CLEAR_LATCHING if row.latching else Trigger.CLEAR
            job = _moved(job, key, clear, row.cleared(job.picture))
        elif over_s != point.over_s:
            job = replace(job, points={**job.points, key: replace(job.points[key], over_s=over_s)})
    return job


def _over_s(job: Job, row: StopPoint, point: Point) -> float:
    """When a stop point whose condition is over ends."""
    after_s = job.now_s + (row.off_delay_s(job.picture) if job.closed_s is None else 0.0)
    return after_s if point.over_s is None else min(point.over_s, after_s)


def _moved(job: Job, key: Key, trigger: Trigger, text: str, until_s: float | None = None) -> Job:
    """The job with one stop point moved by a trigger; unchanged where the trigger does not apply."""
    before = job.points.get(key, Point(Life.NORMAL, job.now_s, ""))
    life = alarm_life.after(before.life, trigger)
    if life is None:
        return job
    raised = trigger is Trigger.RAISE
    over_s = before.over_s if trigger is Trigger.ACKNOWLEDGE else None
    point = Point(life, job.now_s if raised else before.raised_s, text if raised else before.text, until_s, over_s)
    points = {**job.points, key: point}
    if life is Life.NORMAL:
        del points[key]
    moved = Transition(job.position, job.now_s, key[0], key[1], before.life, life, text)
    return replace(job, points=points, journal=(*job.journal, moved))


def _treated(job: Job, event: TreatStopPoint) -> Job:
    row = STOP_POINTS.get(event.stop_point)
    if row is None:
        known = ", ".join(STOP_POINTS)
        raise ActionRefusedError("unknown-stop-point", "stop_point", f"{event.stop_point!r} is none of {known}")
    trigger = TREATMENTS[event.treatment]
    if trigger is Trigger.SHELVE and not row.shelvable:
        raise ActionRefusedError("not-shelvable", "stop_point", f"{row.id} guards people and cannot be put aside")
    keys = [key for key in job.points if key[0] == row.id and event.subject in {"", key[1]}] or [
        (row.id, event.subject)
    ]
    lives = {key: job.points[key].life if key in job.points else Life.NORMAL for key in keys}
    movable = [key for key, life in lives.items() if alarm_life.after(life, trigger) is not None]
    refused = [life for life in lives.values() if life not in IDEMPOTENT.get(trigger, ())]
    if refused and not movable:
        raise ActionRefusedError(
            "stop-point-state", "stop_point", f"{row.id} is {refused[0]}; there is nothing to {event.treatment}"
        )
    for key in movable:
        until = event.time_s + event.duration_s if trigger is Trigger.SHELVE else None
        job = _moved(job, key, trigger, event.reason or f"{event.treatment} by the technician", until)
    return _judged(job) if trigger is Trigger.UNSHELVE else job


def life_of(job: Job, row: StopPoint) -> Life:
    """State of a stop point without subject; where its condition is not looked at, it is suppressed by design."""
    point = job.points.get((row.id, ""))
    if point is not None:
        return point.life
    return Life.NORMAL if looked_at(row.scope, job.picture) else Life.SUPPRESSED_BY_DESIGN


def _wake_at_s(job: Job) -> float | None:
    """The next moment at which something changes although nothing arrives."""
    if job.closed_s is not None:
        return None
    course, now = job.course, job.now_s
    moments = [at_s for point in job.points.values() for at_s in (point.until_s, point.over_s) if at_s is not None]
    if job.picture.charging:
        land = job.picture.landing
        if land is not None and land.call_in_s is not None and course.circuit_open:
            moments.append(now + land.call_in_s)
        if course.slow_since_s is not None:
            moments.append(course.slow_since_s + STALLED_AFTER_S)
    waits = evacuated_start_ends_s(course) if course.engine_running else None
    if waits is not None:
        moments.append(waits)
    if job.picture.working:
        moments += [latest.stale_at_s(name) for name, latest in course.latest.items() if is_needed(name, course)]
        silent_at = silent_scale_at_s(course)
        if silent_at is not None:
            moments.append(silent_at)
    future = [moment for moment in moments if moment > now]
    return min(future, default=None)
