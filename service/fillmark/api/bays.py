"""Bays: what is in each of them, and the glance for a screen with no memory."""

from __future__ import annotations

import time
from typing import Annotated

from fastapi import APIRouter, Header, Query, Response

from fillmark.api import documents, schemas
from fillmark.api.answers import NO_STORE, answer
from fillmark.api.bay import Bay
from fillmark.api.service import Here, Service
from fillmark.wire.senml import Record

router = APIRouter(tags=["bays"])
LONGEST_WAIT_S = 30.0


@router.get("/v1/bays", summary="List bays", response_model=schemas.BayList)
async def list_bays(here: Here) -> Response:
    """Every bay that was ever heard of: its open job, its last job, and the last record of each of its channels."""
    rows = [_row(here, name, bay) for name, bay in sorted(here.keeper.bays.items())]
    return answer({"now": here.clock.now_s(), "bays": rows})


def _row(here: Service, name: str, bay: Bay) -> dict[str, object]:
    workshop = here.keeper.workshop
    number = workshop.opened_in_bay.get(name, 0)
    return {
        "bay": name,
        "open_job": workshop.open_jobs.get(name),
        "last_job": f"{name}.{number}" if number else None,
        "received": bay.received_s,
        "channels": {
            local: {"at": r.time_s, "unit": r.unit, "value": _value(r)} for local, r in sorted(bay.heard.items())
        },
    }


def _value(record: Record) -> float | bool | str | None:
    """A number, a flag, or the text of a fault."""
    return next((each for each in (record.flag, record.value) if each is not None), record.text)


@router.get(
    "/v1/bays/{bay}/glance", summary="A bay at a glance", response_model=schemas.Glance, responses=schemas.NOT_MODIFIED
)
async def glance(
    bay: str,
    here: Here,
    wait: Annotated[
        float, Query(ge=0.0, le=LONGEST_WAIT_S, description="With If-None-Match: wait so long for news, seconds.")
    ] = 0.0,
    if_none_match: Annotated[str | None, Header()] = None,
) -> Response:
    """One flat object. A bay without an open job has nulls.

    The ETag changes with every entry of the bay. With `If-None-Match` the answer is 304 while nothing is new, and with
    `wait` it comes as soon as something is, or after so many seconds.
    """
    keeper, pulse = here.keeper, here.keeper.pulse(bay)
    deadline = time.monotonic() + wait
    while if_none_match is not None and _matches(if_none_match, here.tag(bay)):
        left = deadline - time.monotonic()
        if left <= 0.0 or pulse.stopped or not await pulse.wait(left):
            return Response(status_code=304, headers={"ETag": here.tag(bay), **NO_STORE})
    document = documents.glance_document(keeper.workshop, bay, here.clock.now_s())
    return answer(document, headers={"ETag": here.tag(bay)})


def _matches(given: str, tag: str) -> bool:
    """Weak comparison, RFC 9110 section 8.8.3.2; `*` matches whatever there is."""
    tags = [one.strip().removeprefix("W/") for one in given.split(",")]
    return "*" in tags or tag.removeprefix("W/") in tags
