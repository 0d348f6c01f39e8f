"""GET /v1/jobs/{job}/log: everything that the job is made of.

As a stream it is one SenML pack a line. The first record of a line says when it reached the service, the second its
position; `fillmark replay` folds such a stream to the very same state. A line in which only time passed says so with a
record `BAY/tick`.
"""

from __future__ import annotations

import json
from collections.abc import AsyncIterator
from contextlib import suppress
from typing import Annotated, Literal
from urllib.parse import quote

from fastapi import APIRouter, Header, Query
from starlette.responses import Response, StreamingResponse

from fillmark.api import schemas
from fillmark.api.answers import answer, dumps
from fillmark.api.service import Here
from fillmark.engine.job import Job
from fillmark.intake import replay
from fillmark.store.log import Log, LogEntry, LogError
from fillmark.wire import channels, senml
from fillmark.wire.senml import Record

router = APIRouter(tags=["jobs"])
LINES = "application/x-ndjson"
PAGE = 1000
Format = Literal["json", "stream"]


@router.get(
    "/v1/jobs/{job}/log",
    summary="Read a job's log",
    response_model=schemas.LogPage,
    responses={**schemas.problems(404, 422), 200: {"content": {LINES: {"schema": {"type": "string"}}}}},
)
async def job_log(
    job: str,
    here: Here,
    *,
    after: Annotated[int, Query(ge=0, description="Only entries with a higher position.")] = 0,
    limit: Annotated[int, Query(ge=1, le=5000, description="Most entries of a page.")] = 500,
    as_: Annotated[Format | None, Query(alias="format", description="stream: all of it, one pack a line.")] = None,
    accept: Annotated[str, Header()] = "",
) -> Response:
    """A page of entries as JSON, or with `Accept: application/x-ndjson` all of them as SenML, one pack a line."""
    found, keeper = here.job(job), here.keeper
    with suppress(LogError):  # the disk fails: what is on it can still be read
        await keeper.writer.durable_to(found.position)
    if as_ == "stream" or (as_ is None and LINES in accept):
        return StreamingResponse(_lines(keeper.log, found), media_type=LINES)
    start = max(after, found.opened_position - 1)
    page = await keeper.log.read(start, limit + 1, found.bay)
    entries = [_own(found, entry) for entry in page if entry.position <= found.position]
    more = len(entries) > limit
    rows = ",".join(_row(entry) for entry in entries[:limit])
    path = f"/v1/jobs/{quote(found.id)}/log?after={entries[limit - 1].position}&limit={limit}" if more else None
    return answer(f'{{"entries":[{rows}],"next":{dumps(path)}}}')


def _row(entry: LogEntry) -> str:
    head = dumps({"position": entry.position, "received": entry.received_s, "bay": entry.bay})
    return f'{head[:-1]},"records":{entry.pack or "[]"}}}'


def _own(job: Job, entry: LogEntry) -> LogEntry:
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


async def _lines(log: Log, job: Job) -> AsyncIterator[bytes]:
    position = job.opened_position - 1
    while page := await log.read(position, PAGE, job.bay):
        entries = [_own(job, entry) for entry in page if entry.position <= job.position]
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
