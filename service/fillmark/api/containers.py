"""The stock: what is in which container, and the entries that are not a job's."""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from fillmark.api import body, schemas
from fillmark.api.answers import answer, dumps
from fillmark.api.jobs import Key, keyed_by
from fillmark.api.problems import ProblemError
from fillmark.api.service import Here
from fillmark.stock import view
from fillmark.stock.ledger import Ledger

router = APIRouter(tags=["stock"])


@router.get("/v1/containers", summary="List the stock", response_model=schemas.ContainerList)
async def list_containers(here: Here) -> Response:
    """What is left in each container of the stock, across jobs; and what jobs used that the stock does not know."""
    keeper = here.keeper
    return answer({"now": here.clock.now_s(), **view.stock_view(keeper.stock.ledger, keeper.workshop.jobs)})


@router.get(
    "/v1/containers/{container}",
    summary="Read a container",
    response_model=schemas.HeldHistory,
    responses=schemas.problems(404),
)
async def read_container(container: str, here: Here) -> Response:
    """A container with all its moves: the one in the stock, or the last one that had the name."""
    ledger, jobs = here.keeper.stock.ledger, here.keeper.workshop.jobs
    named = [one for one in ledger.holdings if one.id == container]
    if not named:
        known = ", ".join(dict.fromkeys(one.id for one in ledger.holdings))
        raise ProblemError(
            "unknown-container", f"there was never a container {container!r} in the stock", accepted=known
        )
    return answer(view.history_view(named[-1], jobs))


@router.post(
    "/v1/containers",
    summary="Enter into the stock",
    response_model=schemas.StockAnswer,
    responses=schemas.problems(400, 401, 403, 409, 413, 415, 422, 503, 507),
    openapi_extra=schemas.body_of(schemas.STOCK_ENTRY, body.JSON),
)
async def enter(request: Request, here: Here, idempotency_key: Key = None) -> Response:
    """Enter a purchase, use, recovery, weighing, return or cancellation; answered when it is on the disk.

    What jobs draw and take in is not entered: it follows from them. The same key with the same body has one effect.
    """
    raw = await body.read(request, here.settings.body_limit_bytes, body.JSON)
    entry = body.parse_object(raw)
    keyed = keyed_by(idempotency_key, "POST /v1/containers", entry)
    jobs = here.keeper.workshop.jobs

    def made(ledger: Ledger, position: int) -> str:
        name = entry.get("container")
        if name is None:  # a cancellation: whose entry it was, the ledger before it knows
            cancelled = here.keeper.stock.ledger.entry(int(str(entry.get("entry"))))
            name = None if cancelled is None else cancelled[0].id
        holding = next((one for one in reversed(ledger.holdings) if one.id == name), None)
        shown = None if holding is None else view.history_view(holding, jobs)
        return dumps({"entry": position, "container": shown})

    kept = await here.keeper.book(raw.decode().strip(), made, keyed)
    return answer(kept.body, kept.status)
