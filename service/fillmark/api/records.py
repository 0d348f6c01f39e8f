"""GET /v1/jobs/{job}/record: the record of a job as JSON, page, PDF or CSV, and the label for under the bonnet."""

from __future__ import annotations

import asyncio
import json
from contextlib import suppress
from typing import Annotated, Any

from fastapi import APIRouter, Header, Response

from fillmark.api import schemas
from fillmark.api.answers import NO_STORE
from fillmark.api.problems import ProblemError
from fillmark.api.service import Here, Service
from fillmark.report.forms import FORMS, LABEL, Form, NothingChargedError
from fillmark.store.log import LogError

router = APIRouter(tags=["jobs"])
POLICY = {"Content-Security-Policy": "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'"}
_CONTENT: dict[str, Any] = {form.media_type: {} for form in FORMS.values()}


@router.get(
    "/v1/jobs/{job}/record",
    summary="Read a job's record",
    responses={**schemas.problems(404, 406), 200: {"content": _CONTENT}},
)
async def record(job: str, here: Here, accept: Annotated[str, Header()] = "") -> Response:
    """What was done and measured, what it proves and does not prove, and a hash over the log, in the form asked for.

    It follows from the log alone: the same log gives the same bytes. An open job's record is marked as not final.
    """
    return await _answer(here, job, chosen(accept))


@router.get(
    "/v1/jobs/{job}/record.{suffix}",
    summary="Read a job's record by suffix",
    responses={**schemas.problems(404, 406), 200: {"content": _CONTENT}},
)
async def record_by_suffix(job: str, suffix: str, here: Here) -> Response:
    """The record as record.json, record.html, record.pdf or record.csv."""
    if suffix not in FORMS:
        raise ProblemError("not-acceptable", f"there is no record.{suffix}", accepted=", ".join(FORMS))
    return await _answer(here, job, suffix)


@router.get(
    "/v1/jobs/{job}/label.pdf",
    summary="Read a job's label",
    responses={**schemas.problems(404), 200: {"content": {LABEL.media_type: {}}}},
)
async def label(job: str, here: Here) -> Response:
    """The label to stick under the bonnet: date, refrigerant, mass."""
    try:
        return await _rendered(here, job, LABEL, "label.pdf")
    except NothingChargedError as error:
        raise ProblemError("nothing-charged", str(error)) from error


async def _answer(here: Service, job_id: str, suffix: str) -> Response:
    return await _rendered(here, job_id, FORMS[suffix], f"record.{suffix}")


async def _rendered(here: Service, job_id: str, form: Form, name: str) -> Response:
    job = here.job(job_id)
    with suppress(LogError):  # the disk fails: what is on it can still be read
        await here.keeper.writer.durable_to(job.position)
    document = await here.records.of(here.keeper.log, job)
    body = await asyncio.to_thread(lambda: form.render(json.loads(document)))
    headers = {**NO_STORE, **POLICY, "Content-Disposition": f'inline; filename="{job.id}-{name}"'}
    return Response(body, headers=headers, media_type=form.media_type)


def chosen(accept: str) -> str:
    """The form that an Accept header wants (RFC 9110 section 12.5.1); JSON where it does not care.

    Raises:
        ProblemError: none of the forms will do.
    """
    weights = {suffix: _weight(accept, form.media_type) for suffix, form in FORMS.items()}
    best = max(weights, key=lambda suffix: weights[suffix])
    if weights[best] <= 0.0:
        accepted = ", ".join(form.media_type for form in FORMS.values())
        raise ProblemError("not-acceptable", f"none of {accept!r} is a form of the record", accepted=accepted)
    return best


def _weight(accept: str, media_type: str) -> float:
    """How much a media type is wanted: the most precise range that holds it decides."""
    if not accept.strip():
        return 1.0
    found: dict[str, float] = {}
    for part in accept.lower().split(","):
        kind, *parameters = (piece.strip() for piece in part.split(";"))
        quality = next((value[2:] for value in parameters if value.startswith("q=")), "1")
        with suppress(ValueError):
            found[kind] = float(quality)
    ranges = (media_type, f"{media_type.partition('/')[0]}/*", "*/*")
    return next((found[kind] for kind in ranges if kind in found), 0.0)
