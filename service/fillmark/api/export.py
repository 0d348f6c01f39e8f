"""The log of a job as a stream: one SenML pack a line, led by records that say when it came and where it stands."""

from __future__ import annotations

import json
from collections.abc import AsyncIterator

from fillmark.engine.job import Job
from fillmark.intake import replay
from fillmark.store.log import Log, LogEntry
from fillmark.wire import channels, senml
from fillmark.wire.senml import Record

PAGE = 1000


def own_entry(job: Job, entry: LogEntry) -> LogEntry:
    """An entry without what stands before the opening of the job: that belongs to the job before."""
    if entry.position != job.opened_position:
        return entry
    records = senml.decode(entry.pack, now_s=entry.received_s)
    first = next(index for index, record in enumerate(records) if _opens(record, job))
    return LogEntry(entry.position, entry.received_s, entry.bay, senml.encode(records[first:]))


def _opens(record: Record, job: Job) -> bool:
    if record.name != f"{job.bay}/{channels.ACTION}" or record.text is None or record.time_s != job.opened_s:
        return False
    action = json.loads(record.text)
    return isinstance(action, dict) and action.get("type") == "job.open"


async def export(log: Log, job: Job) -> AsyncIterator[bytes]:
    """The log of a job as a stream, some lines at a time."""
    position = job.opened_position - 1
    while page := await log.read(position, PAGE, job.bay):
        entries = [own_entry(job, entry) for entry in page if entry.position <= job.position]
        yield "".join(_line(job, entry) for entry in entries).encode()
        position = page[-1].position
        if position >= job.position:
            return


def _line(job: Job, entry: LogEntry) -> str:
    at = entry.received_s
    marks = [
        Record(replay.RECEIVED, at, "s", at),
        Record(replay.POSITION, at, "count", float(entry.position)),
    ]
    if entry.position == job.opened_position:
        marks.append(Record(replay.JOB, at, text=job.id))
    if not entry.pack:
        marks.append(Record(f"{entry.bay}/tick", at, flag=True))
    head = senml.encode(marks)
    return f"{head[:-1]},{entry.pack[1:]}\n" if entry.pack else f"{head}\n"
