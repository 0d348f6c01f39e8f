"""POST /v1/plan: which container gives how much, asked before the job is opened. It writes nothing."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from fillmark.api import body, documents, schemas
from fillmark.api.answers import answer
from fillmark.api.problems import ProblemError
from fillmark.api.service import Here
from fillmark.engine.events import MountContainer, OpenJob
from fillmark.engine.hold_up import liquid_hold_up, vapour_hold_up
from fillmark.engine.plan import Stock, plan
from fillmark.engine.setup import Setup
from fillmark.intake.events import IntakeError, from_action

router = APIRouter(tags=["jobs"])
USUAL_K = 293.15
"""Temperature at the hose where nobody says: a heated shop. Common practice, no source."""
MOST_CONTAINERS = 50


@router.post(
    "/v1/plan",
    summary="Plan a charge",
    response_model=schemas.PlanView,
    responses=schemas.problems(400, 401, 403, 413, 415, 422),
    openapi_extra=schemas.body_of(schemas.PLAN, body.JSON),
)
async def make_plan(request: Request, here: Here) -> Response:
    """Share aim and hose filling over the containers at hand, in their order. Nothing is written.

    `job` has the fields of `job.open`, each of `containers` those of `container.mount` with a net mass. The hose is
    reckoned at 20 °C, full of what the first container gives.
    """
    given = body.parse_object(await body.read(request, here.settings.body_limit_bytes, body.JSON))
    setup = _setup(given.get("job"))
    mounts = _mounts(given.get("containers"))
    hose_kg = _hose_kg(setup, mounts)
    stocks = [Stock(one.container, one.net_kg or 0.0, one.heel_kg) for one in mounts]
    made = plan(setup.aim_kg, hose_kg or 0.0, stocks)
    return answer({**documents.plan_document(made, setup.aim_kg), "hose_kg": _rounded(hose_kg)})


def _setup(fields: object) -> Setup:
    if not isinstance(fields, dict):
        raise ProblemError("invalid-field", "the job is missing", field="/job", accepted="the fields of job.open")
    fields = {name: value for name, value in fields.items() if name not in {"bay", "type"}}
    opened = _read({**fields, "type": "job.open"}, "/job")
    assert isinstance(opened, OpenJob)  # noqa: S101 - what job.open is made into
    return opened.setup


def _mounts(rows: object) -> list[MountContainer]:
    if not isinstance(rows, list) or not 0 < len(rows) <= MOST_CONTAINERS:
        accepted = f'1 to {MOST_CONTAINERS} objects such as {{"container": "C1", "net": "340 g"}}'
        raise ProblemError("invalid-field", "no containers are named", field="/containers", accepted=accepted)
    mounts = []
    for index, row in enumerate(rows):
        where = f"/containers/{index}"
        mount = _read({**row, "type": "container.mount"} if isinstance(row, dict) else row, where)
        assert isinstance(mount, MountContainer)  # noqa: S101 - what container.mount is made into
        if mount.net_kg is None:
            raise ProblemError("invalid-field", "its net mass is missing", field=f"{where}/net", accepted='"340 g"')
        mounts.append(mount)
    return mounts


def _read(raw: object, where: str) -> object:
    try:
        return from_action(raw, 0.0, where)
    except IntakeError as error:
        raise ProblemError("invalid-field", error.problem, field=error.field, accepted=error.accepted) from error


def _hose_kg(setup: Setup, mounts: list[MountContainer]) -> float | None:
    fluid, hose = setup.circuit.refrigerant, setup.hose
    if hose is None:
        return None
    if mounts[0].draw == "liquid":
        held = liquid_hold_up(hose, fluid, USUAL_K)
    else:
        held = vapour_hold_up(hose, fluid, USUAL_K, fluid.dew_pressure_pa(USUAL_K))
    return None if held is None else held.mass_kg


def _rounded(mass_kg: float | None) -> float | None:
    return None if mass_kg is None else round(mass_kg, 6)
