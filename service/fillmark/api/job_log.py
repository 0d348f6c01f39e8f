"""GET /v1/jobs/{job}/log: everything that the job is made of.

As a stream it is one SenML pack a line. The first record of a line says when it reached the service, the second its
position; `fillmark replay` folds such a stream to the very same state. A line in which only time passed says so with a
record `BAY/tick`.
"""

from __future__ import annotations

from contextlib import suppress
from typing import Annotated, Literal
from urllib.parse import quote

from fastapi import APIRouter, Header, Query
from starlette.responses import Response, StreamingResponse

from fillmark.api import schemas
from fillmark.api.answers import answer, dumps
from fillmark.api.export import export, own_entry
from fillmark.api.service import Here
from fillmark.store.log import LogEntry, LogError

router = APIRouter(tags=["jobs"])
LINES = "application/x-ndjson"
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
        return StreamingResponse(export(keeper.log, found), media_type=LINES)
    start = max(after, found.opened_position - 1)
    page = await keeper.log.read(start, limit + 1, found.bay)
    entries = [own_entry(found, entry) for entry in page if entry.position <= found.position]
    more = len(entries) > limit
    rows = ",".join(_row(entry) for entry in entries[:limit])
    path = f"/v1/jobs/{quote(found.id)}/log?after={entries[limit - 1].position}&limit={limit}" if more else None
    return answer(f'{{"entries":[{rows}],"next":{dumps(path)}}}')


def _row(entry: LogEntry) -> str:
    head = dumps({"position": entry.position, "received": entry.received_s, "bay": entry.bay})
    return f'{head[:-1]},"records":{entry.pack or "[]"}}}'
