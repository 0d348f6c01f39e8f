"""Jobs: open one, list them, read one, and say what was done to it."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import quote

from fastapi import APIRouter, Header, Query, Request, Response

from fillmark.api import body, documents, packs, schemas
from fillmark.api.answers import answer, dumps
from fillmark.api.keeper import Keyed
from fillmark.api.problems import ProblemError
from fillmark.api.service import Here
from fillmark.engine.job import Job
from fillmark.engine.reaction import learnt
from fillmark.engine.workshop import Workshop

router = APIRouter(tags=["jobs"])
LONGEST_KEY = 255
Key = Annotated[str | None, Header(alias="Idempotency-Key", description="Any text that is new for every action.")]


@router.post(
    "/v1/jobs",
    summary="Open a job",
    status_code=201,
    response_model=schemas.JobView,
    responses=schemas.problems(400, 401, 403, 409, 413, 415, 422, 503, 507),
    openapi_extra=schemas.body_of(schemas.OPEN, body.JSON),
)
async def open_job(request: Request, here: Here, bay: str | None = None, idempotency_key: Key = None) -> Response:
    """Open a job in a bay, named by `bay` in the query or in the body. The other fields are those of `job.open`.

    Where `technician` is named and no reaction time is given, `reaction_learnt` is written into the opening.
    """
    fields = body.parse_object(await body.read(request, here.settings.body_limit_bytes, body.JSON))
    name = _bay(fields.pop("bay", bay), bay)
    if fields.pop("type", "job.open") != "job.open":
        raise ProblemError("invalid-field", "a job begins with job.open", field="/type", accepted="job.open, or none")
    keyed = _keyed(idempotency_key, f"POST /v1/jobs {name}", fields)
    text = dumps({"type": "job.open", **fields, **_learnt_reaction(fields, here.keeper.workshop)})

    def opened(job: Job, at_s: float) -> tuple[int, str]:
        return 201, here.texts.text(job, at_s)

    kept = await here.keeper.act(name, text, opened, keyed)
    job_id = here.keeper.job_at(name, kept.position)
    return answer(kept.body, kept.status, {"Location": f"/v1/jobs/{quote(job_id)}"})


@router.get("/v1/jobs", summary="List jobs", response_model=schemas.JobList, responses=schemas.problems(422))
async def list_jobs(
    here: Here,
    bay: Annotated[str | None, Query(description="Only jobs of this bay.")] = None,
    open: Annotated[bool | None, Query(description="Only open, or only closed jobs.")] = None,  # noqa: A002 - the word of the API
    limit: Annotated[int, Query(ge=1, le=1000)] = 100,
) -> Response:
    """The newest `limit` jobs, newest first."""
    found = [
        job
        for job in here.keeper.workshop.jobs.values()
        if (bay is None or job.bay == bay) and (open is None or (job.closed_s is None) == open)
    ]
    found.sort(key=lambda job: job.opened_position, reverse=True)
    rows = [documents.short_document(job) for job in found[:limit]]
    return answer({"now": here.clock.now_s(), "jobs": rows, "total": len(found)})


@router.get("/v1/jobs/{job}", summary="Read a job", response_model=schemas.JobView, responses=schemas.problems(404))
async def read_job(job: str, here: Here) -> Response:
    """Everything about one job: masses and their standard uncertainties, stop points, plan, cautions."""
    return answer(here.texts.text(here.job(job), here.clock.now_s()))


@router.post(
    "/v1/jobs/{job}/actions",
    summary="Say what was done",
    response_model=schemas.ActionAnswer,
    responses=schemas.problems(400, 401, 403, 404, 409, 413, 415, 422, 503, 507),
    openapi_extra=schemas.body_of(schemas.ACTION, body.JSON),
)
async def act(job: str, request: Request, here: Here, idempotency_key: Key = None) -> Response:
    """Take one action of the technician on an open job, and answer when it is on the disk.

    The same key with the same body gives the same answer and has no second effect, also after the job was closed.
    """
    bay = here.job(job).bay
    raw = await body.read(request, here.settings.body_limit_bytes, body.JSON)
    action = body.parse_object(raw)
    keyed = keyed_by(idempotency_key, f"POST /v1/jobs/{job}/actions", action)
    if action.get("type") == "job.open":
        raise ProblemError("invalid-field", "a job is opened with POST /v1/jobs", field="/type", accepted="an action")

    def done(after: Job, at_s: float) -> tuple[int, str]:
        return 200, dumps(documents.action_document(after, at_s))

    kept = await here.keeper.act(bay, raw.decode().strip(), done, keyed, job)
    return answer(kept.body, kept.status)


def _learnt_reaction(fields: dict[str, object], workshop: Workshop) -> dict[str, object]:
    """What the technician's earlier closings teach, as a field of the opening: the log says what the calls go by."""
    technician = fields.get("technician")
    given = any(fields.get(name) is not None for name in ("reaction_time", "reaction_time_s", "reaction_learnt"))
    if given or not isinstance(technician, str):
        return {}
    found = learnt(workshop.reactions_s(technician))
    if found.closings == 0:
        return {}
    seconds = {"time_s": round(found.time_s, 3), "u_s": round(found.u_s, 3)}
    return {"reaction_learnt": {**seconds, "closings": found.closings}}


def _bay(name: object, query: str | None) -> str:
    if not isinstance(name, str) or packs.BAY.fullmatch(name) is None or name == packs.RESERVED_BAY:
        wanted = "letters, digits and - : . _ beginning with a letter or digit, as bay-1"
        raise ProblemError("invalid-field", "the bay is missing or has no such name", field="/bay", accepted=wanted)
    if query is not None and query != name:
        raise ProblemError("invalid-field", "query and body name two bays", field="/bay", accepted="one of them")
    return name


def keyed_by(key: str | None, path: str, value: object) -> Keyed:
    """A request that must have a key.

    Raises:
        ProblemError: it has none, or one that cannot be taken.
    """
    keyed = _keyed(key, path, value)
    if keyed is None:
        raise ProblemError(
            "idempotency-key-missing",
            "an action counts once however often it is sent, so it needs a key: send the header Idempotency-Key with "
            "a text of your own, a new one for every action and the same one for its retry",
            field="/headers/Idempotency-Key",
            accepted="any text, such as a UUID",
        )
    return keyed


def _keyed(key: str | None, path: str, value: object) -> Keyed | None:
    if key is None or not key.strip():
        return None
    if len(key) > LONGEST_KEY or not key.isprintable():
        accepted = f"at most {LONGEST_KEY} printable characters"
        detail = "the Idempotency-Key is too long or cannot be printed"
        raise ProblemError("bad-request", detail, field="/headers/Idempotency-Key", accepted=accepted)
    return Keyed(key.strip(), body.fingerprint(path, value))
