"""GET /v1/jobs/{job}/course: what one channel read since a moment, thinned out for a drawing."""

from __future__ import annotations

from contextlib import suppress
from typing import Annotated

from fastapi import APIRouter, Query, Response

from fillmark.api import schemas
from fillmark.api.answers import answer
from fillmark.api.service import Here
from fillmark.store.log import LogError
from fillmark.wire import senml

router = APIRouter(tags=["jobs"])
PAGE = 500
MOST_POINTS = 2000


@router.get(
    "/v1/jobs/{job}/course",
    summary="The course of a channel",
    response_model=schemas.CourseView,
    responses=schemas.problems(404, 422),
)
async def read_course(
    job: str,
    here: Here,
    channel: Annotated[str, Query(description="A channel without its bay, as vacuum/pressure.")],
    since: Annotated[float, Query(ge=0.0, description="Only readings from this moment on, Unix seconds.")] = 0.0,
    most: Annotated[int, Query(ge=2, le=MOST_POINTS, description="Most points of the answer.")] = 600,
) -> Response:
    """Readings of one channel in order of time; where there are more than `most`, every n-th and the last one."""
    found, keeper = here.job(job), here.keeper
    with suppress(LogError):  # the disk fails: what is on it can still be read
        await keeper.writer.durable_to(found.position)
    name, unit = f"{found.bay}/{channel}", None
    seen: dict[float, float] = {}
    position = max(found.opened_position - 1, 0)
    while position < found.position and (page := await keeper.log.read(position, PAGE, found.bay)):
        for entry in page:
            if channel not in entry.pack or entry.position > found.position:
                continue
            for record in senml.decode(entry.pack, now_s=entry.received_s):
                if record.name == name and record.value is not None and record.time_s >= since:
                    seen[record.time_s], unit = record.value, record.unit
        position = page[-1].position
    return answer({"channel": channel, "unit": unit, "points": thinned(sorted(seen.items()), most)})


def thinned(points: list[tuple[float, float]], most: int) -> list[tuple[float, float]]:
    """At most `most` of the points, evenly by number, with the first and the last."""
    if len(points) <= most:
        return points
    step = (len(points) - 1) / (most - 1)
    return [points[round(index * step)] for index in range(most)]
