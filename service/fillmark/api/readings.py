"""POST /v1/readings: where every reading comes in."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from fillmark.api import body, schemas
from fillmark.api.answers import answer
from fillmark.api.problems import ProblemError
from fillmark.api.service import Here
from fillmark.wire import senml

router = APIRouter(tags=["readings"])


@router.post(
    "/v1/readings",
    summary="Take readings",
    response_model=schemas.Receipt,
    responses=schemas.problems(400, 401, 403, 409, 413, 415, 422, 503, 507),
    openapi_extra=schemas.body_of(schemas.PACK, body.SENML, body.JSON),
)
async def post_readings(request: Request, here: Here) -> Response:
    """Take one SenML pack (RFC 8428), all or nothing, and answer when it is on the disk.

    A record is known by its channel and time; sending it again changes nothing and is counted as `duplicate`, so every
    retry is safe. `accepted` records are new; `unassigned` are those among them that found no open job. A record of the
    channel `BAY/action` carries an action as JSON text in `vs`.
    """
    raw = body.parse(await body.read(request, here.settings.body_limit_bytes, body.SENML, body.JSON))
    try:
        records = senml.resolve(raw, now_s=here.clock.now_s())
    except senml.SenmlError as error:
        raise ProblemError("invalid-senml", error.problem, field=error.field, accepted=error.accepted) from error
    receipt = await here.keeper.submit(records)
    counts = {"accepted": receipt.accepted, "duplicate": receipt.duplicate, "unassigned": receipt.unassigned}
    return answer({**counts, "position": receipt.position})
