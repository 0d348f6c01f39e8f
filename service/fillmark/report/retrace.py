"""A log folded once more, with what its plots need besides the final state."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from fillmark.engine.job import Job
from fillmark.engine.steps import Step
from fillmark.engine.workshop import Workshop
from fillmark.intake.replay import Replay, StreamError
from fillmark.wire import channels
from fillmark.wire.senml import Record

DRAWN = frozenset({"pressure", "temperature"})
"""Quantities of which every reading is kept for a plot."""


@dataclass(slots=True)
class Curves:
    """Series of one job, each a list of (Unix s, value): masses kg as they were shown, readings by channel."""

    charged: list[tuple[float, float]] = field(default_factory=list)
    recovered: list[tuple[float, float]] = field(default_factory=list)
    readings: dict[str, list[tuple[float, float]]] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Trace:
    """A log and what follows from it."""

    lines: tuple[tuple[Record, ...], ...]
    workshop: Workshop
    curves: dict[str, Curves]

    def job(self, job_id: str | None) -> Job:
        """The job of that name, or the only one.

        Raises:
            StreamError: there is none, or which of several is not said.
        """
        jobs = self.workshop.jobs
        known = ", ".join(jobs)
        if not jobs:
            raise StreamError(
                "no job is opened in this log; its first action must be job.open on the channel BAY/action"
            )
        if job_id is None:
            if len(jobs) > 1:
                raise StreamError(f"the log holds several jobs; name one of {known}")
            return next(iter(jobs.values()))
        if job_id not in jobs:
            raise StreamError(f"there is no job {job_id} in this log; it holds {known}")
        return jobs[job_id]


def retrace(texts: Iterable[str]) -> Trace:
    """Fold the lines of a recorded stream or an exported log.

    Raises:
        StreamError: a line that is no pack, or an action that does not fit.
    """
    run = Replay()
    lines: list[tuple[Record, ...]] = []
    curves: dict[str, Curves] = {}
    for number, text in enumerate(texts, start=1):
        if not text.strip():
            continue
        records = run.take_line(text, number)
        lines.append(records)
        for bay in {record.name.partition("/")[0] for record in records}:
            job = _job_of(run.state, bay)
            if job is not None:
                _follow(curves.setdefault(job.id, Curves()), job, records)
    return Trace(tuple(lines), run.state, curves)


def _job_of(state: Workshop, bay: str) -> Job | None:
    return state.open_job(bay) or state.jobs.get(state.closed_jobs.get(bay, ""))


def _follow(curves: Curves, job: Job, records: Iterable[Record]) -> None:
    at_s, shown = job.picture.mass_at_s, job.picture
    if at_s is not None and shown.charging and _is_new(curves.charged, at_s):
        curves.charged.append((at_s, shown.charged.mass_kg))
    if at_s is not None and job.course.step is Step.RECOVERY and _is_new(curves.recovered, at_s):
        curves.recovered.append((at_s, job.course.recovered()[0]))
    for record in records:
        channel = channels.parse(record.name)
        if channel.bay == job.bay and channel.quantity in DRAWN and record.value is not None:
            value = channels.normalise(record).value
            if value is not None:
                curves.readings.setdefault(channel.local, []).append((record.time_s, value))


def _is_new(series: list[tuple[float, float]], at_s: float) -> bool:
    return not series or at_s > series[-1][0]
