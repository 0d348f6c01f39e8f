"""The events of a job that are no longer in memory, folded from the log once more."""

from __future__ import annotations

from fillmark.api import packs
from fillmark.api.export import own_entry
from fillmark.engine import workshop as engine
from fillmark.engine.errors import ActionRefusedError
from fillmark.engine.events import Entry
from fillmark.engine.job import Job
from fillmark.engine.timeline import Timeline
from fillmark.engine.workshop import Workshop
from fillmark.intake.events import IntakeError
from fillmark.store.log import Log, LogDamagedError, LogEntry
from fillmark.wire.senml import SenmlError

PAGE = 100
"""Entries folded in one go: what is live waits no longer than that."""


async def whole_timeline(log: Log, job: Job, up_to: int) -> Timeline:
    """All events of a job up to a position of the log, in order of time.

    Raises:
        LogDamagedError: they cannot be folded.
        LogError: the log cannot be read.
    """
    number = int(job.id.rpartition(".")[2])
    workshop, position = Workshop(opened_in_bay={job.bay: number - 1}), job.opened_position - 1
    while position < up_to and (page := await log.read(position, PAGE, job.bay)):
        for entry in page:
            if entry.position <= up_to:
                workshop = _folded(workshop, job, entry)
        position = page[-1].position
    return workshop.jobs[job.id].timeline


def _folded(workshop: Workshop, job: Job, entry: LogEntry) -> Workshop:
    try:
        own = own_entry(job, entry)
        told = Entry(own.position, own.received_s, own.bay, packs.unpacked(own)[1])
        return engine.step(workshop, told)[0]
    except (SenmlError, IntakeError, ActionRefusedError) as error:
        raise LogDamagedError(
            f"the entry at position {entry.position} of the log cannot be folded ({error})"
        ) from error
