"""The whole workshop: which job is open in which bay. Entries of the log are folded here."""

from __future__ import annotations

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from fillmark.engine import job as jobs
from fillmark.engine.errors import ActionRefusedError
from fillmark.engine.events import Entry, OpenJob, Reading
from fillmark.engine.job import Job, Transition
from fillmark.engine.timeline import Timeline


@dataclass(frozen=True, slots=True)
class Workshop:
    """All jobs by id, and the open one of each bay.

    Attributes:
        position: log position of the last entry folded.
        closed_jobs: the last closed job of each bay, which still takes readings of its own time.
        unassigned: readings that belong to no job.
        recent_chunks: how much of its events each job opened from now on keeps (see `timeline`); None: all.
    """

    jobs: Mapping[str, Job] = field(default_factory=dict)
    open_jobs: Mapping[str, str] = field(default_factory=dict)
    closed_jobs: Mapping[str, str] = field(default_factory=dict)
    opened_in_bay: Mapping[str, int] = field(default_factory=dict)
    position: int = 0
    unassigned: int = 0
    recent_chunks: int | None = None

    def open_job(self, bay: str) -> Job | None:
        """The job open in a bay."""
        job_id = self.open_jobs.get(bay)
        return None if job_id is None else self.jobs[job_id]

    def reactions_s(self, technician: str) -> tuple[float, ...]:
        """How long this technician took to shut the valve on earlier calls, s, the oldest first."""
        name = technician.strip().casefold()
        jobs = (job for job in self.jobs.values() if (job.technician or "").casefold() == name)
        found = sorted((one for job in jobs for one in job.closings), key=lambda one: one.called_s)
        return tuple(one.reaction_s for one in found)

    @property
    def wake_at_s(self) -> float | None:
        """When the next tick is due in any bay."""
        wakes = [self.jobs[job_id].wake_at_s for job_id in self.open_jobs.values()]
        return min((wake for wake in wakes if wake is not None), default=None)

    def bays_due(self, now_s: float) -> tuple[str, ...]:
        """Bays whose open job waits for a tick at or before `now_s`."""
        due = []
        for bay, job_id in self.open_jobs.items():
            wake = self.jobs[job_id].wake_at_s
            if wake is not None and wake <= now_s:
                due.append(bay)
        return tuple(due)


@dataclass(frozen=True, slots=True)
class Outputs:
    """What one entry brought: transitions of stop points by job, and readings that found no job."""

    transitions: tuple[tuple[str, Transition], ...] = ()
    unassigned: int = 0


def step(workshop: Workshop, entry: Entry) -> tuple[Workshop, Outputs]:
    """Fold one entry.

    Raises:
        ActionRefusedError: an action does not fit; the workshop is as it was.
        HistoryNeededError: an event is too late for what a job still holds; the workshop is as it was.
    """
    transitions: list[tuple[str, Transition]] = []
    unassigned = 0
    for part in _by_job(entry):
        workshop, moved, homeless = _step_part(workshop, part)
        transitions += moved
        unassigned += homeless
    workshop = replace(workshop, position=entry.position, unassigned=workshop.unassigned + unassigned)
    return workshop, Outputs(tuple(transitions), unassigned)


def recalling(workshop: Workshop, job_id: str) -> Workshop:
    """The workshop while a job's forgotten events are fetched from the log: the job forgets no more meanwhile."""
    job = workshop.jobs[job_id]
    return _with_timeline(workshop, job, replace(job.timeline, most_chunks=None))


def recalled(workshop: Workshop, job_id: str, whole: Timeline | None) -> Workshop:
    """The workshop with all events of a job at hand, until they have long not been needed; None: they were not found.

    Raises:
        OtherCourseError: they do not lead to the course of the job; the workshop is as it was.
    """
    job = workshop.jobs[job_id]
    timeline = job.timeline if whole is None else whole.joined(job.timeline)
    return _with_timeline(workshop, job, replace(timeline, most_chunks=workshop.recent_chunks, settled=0))


def _with_timeline(workshop: Workshop, job: Job, timeline: Timeline) -> Workshop:
    return replace(workshop, jobs={**workshop.jobs, job.id: replace(job, timeline=timeline)})


def _by_job(entry: Entry) -> list[Entry]:
    """Cut an entry before every opening of a job, so that each part belongs to one job at most."""
    cuts = [index for index, event in enumerate(entry.events) if isinstance(event, OpenJob)]
    if not cuts:
        return [entry]
    parts = [entry.events[start:end] for start, end in itertools.pairwise([0, *cuts, len(entry.events)])]
    return [replace(entry, events=part) for part in parts if part]


def _step_part(workshop: Workshop, entry: Entry) -> tuple[Workshop, list[tuple[str, Transition]], int]:
    first = entry.events[0] if entry.events else None
    if isinstance(first, OpenJob):
        workshop = _with_new_job(workshop, entry, first)
        entry = replace(entry, events=entry.events[1:])
    workshop, entry = _with_late_readings(workshop, entry)
    job = workshop.open_job(entry.bay)
    if job is None:
        readings = [event for event in entry.events if isinstance(event, Reading)]
        if len(readings) != len(entry.events):
            raise ActionRefusedError("no-job", "type", f"no job is open in {entry.bay}; open one first")
        return workshop, [], len(readings)
    moved, transitions = jobs.step(job, entry)
    return _with_job(workshop, moved), [(job.id, t) for t in transitions], moved.dropped - job.dropped


def _with_late_readings(workshop: Workshop, entry: Entry) -> tuple[Workshop, Entry]:
    """Give readings from before the closing of the bay's last job to that job, and return the rest."""
    job = workshop.jobs.get(workshop.closed_jobs.get(entry.bay, ""))
    if job is None or job.closed_s is None:
        return workshop, entry
    opened, closed = job.opened_s, job.closed_s
    late = [e for e in entry.events if isinstance(e, Reading) and opened <= e.time_s <= closed]
    if not late:
        return workshop, entry
    rest = tuple(e for e in entry.events if not (isinstance(e, Reading) and opened <= e.time_s <= closed))
    done = jobs.completed(job, entry, late)
    return replace(workshop, jobs={**workshop.jobs, job.id: done}), replace(entry, events=rest)


def _with_new_job(workshop: Workshop, entry: Entry, event: OpenJob) -> Workshop:
    running = workshop.open_job(entry.bay)
    if running is not None:
        raise ActionRefusedError("job-open", "type", f"the job {running.id} is open in {entry.bay}; close it first")
    number = workshop.opened_in_bay.get(entry.bay, 0) + 1
    job = jobs.opened(f"{entry.bay}.{number}", entry, event, workshop.recent_chunks)
    return replace(
        workshop,
        jobs={**workshop.jobs, job.id: job},
        open_jobs={**workshop.open_jobs, entry.bay: job.id},
        opened_in_bay={**workshop.opened_in_bay, entry.bay: number},
    )


def _with_job(workshop: Workshop, job: Job) -> Workshop:
    known = {**workshop.jobs, job.id: job}
    if job.closed_s is None:
        return replace(workshop, jobs=known)
    before = known.get(workshop.closed_jobs.get(job.bay, ""))
    if before is not None:
        known[before.id] = jobs.archived(before)
    open_jobs = {bay: job_id for bay, job_id in workshop.open_jobs.items() if job_id != job.id}
    return replace(workshop, jobs=known, open_jobs=open_jobs, closed_jobs={**workshop.closed_jobs, job.bay: job.id})
