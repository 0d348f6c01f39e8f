"""GET /v1/jobs/{job}/stream: Server-Sent Events. Every state that can be shown, and every change of a stop point.

* `stop_point` events come first, then the `state` that they led to; only the state has an id. So a client that was cut
  off between them gets all of them again, and never loses one.
* There is no queue: a slow client gets the newest state, and all changes since its last one.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import AsyncIterator
from typing import Annotated

from fastapi import APIRouter, Header, Query
from fastapi.sse import format_sse_event
from starlette.responses import Response, StreamingResponse

from fillmark.api import documents, schemas
from fillmark.api.answers import dumps
from fillmark.api.service import Here, Service
from fillmark.engine.job import Job

router = APIRouter(tags=["jobs"])
RETRY_MS = 1000
EVENTS = "text/event-stream"
HEADERS = {"Cache-Control": "no-store", "X-Accel-Buffering": "no"}


@router.get(
    "/v1/jobs/{job}/stream",
    summary="Follow a job",
    response_class=StreamingResponse,
    responses={**schemas.problems(404, 422), 200: {"content": {EVENTS: {"schema": {"type": "string"}}}}},
)
async def stream(
    job: str,
    here: Here,
    last_event_id: Annotated[str | None, Header(description="Position of the last state that was seen.")] = None,
    after: Annotated[int | None, Query(ge=0, description="The same, for a client that cannot set headers.")] = None,
) -> Response:
    """Events `state` (the job as in GET /v1/jobs/{job}; its id is the log position) and `stop_point`.

    With `Last-Event-ID` the changes of stop points since then come first. A position that the log has not reached,
    or none, gives the state alone.
    """
    begun = here.job(job)
    seen = int(last_event_id) if last_event_id and last_event_id.isascii() and last_event_id.isdigit() else after
    return StreamingResponse(_events(here, begun, seen), media_type=EVENTS, headers=HEADERS)


async def _events(here: Service, begun: Job, seen: int | None) -> AsyncIterator[bytes]:
    keeper, pulse = here.keeper, here.keeper.pulse(begun.bay)
    sent = len(begun.journal)
    if seen is not None and seen <= keeper.workshop.position:
        sent = bisect_right(begun.journal, seen, key=lambda moved: moved.position)
    shown: Job | None = None
    yield format_sse_event(retry=RETRY_MS, comment="fillmark")
    while not pulse.stopped:
        job = keeper.workshop.jobs[begun.id]
        if job is not shown:
            yield _news(here, job, sent)
            sent, shown = len(job.journal), job
        elif not await pulse.wait(here.settings.heartbeat_s):
            yield format_sse_event(comment="alive")


def _news(here: Service, job: Job, sent: int) -> bytes:
    events = [
        format_sse_event(event="stop_point", data_str=dumps(documents.transition_document(job, moved)))
        for moved in job.journal[sent:]
    ]
    text = here.texts.text(job, here.clock.now_s())
    return b"".join([*events, format_sse_event(event="state", data_str=text, id=str(job.position))])
