"""GET /health: whether the service is well, and what it has refused."""

from __future__ import annotations

import importlib.metadata

from fastapi import APIRouter, Response

from fillmark.api import schemas
from fillmark.api.answers import answer
from fillmark.api.service import Here
from fillmark.refrigerants import facade

router = APIRouter(tags=["service"])


@router.get("/health", summary="Health", response_model=schemas.Health)
async def health(here: Here) -> Response:
    """`degraded` says that the disk does not take what arrives: it is shown, but would not survive a stop."""
    keeper = here.keeper
    failure = keeper.writer.failure
    return answer(
        {
            "status": "ok" if failure is None else "degraded",
            "reason": None if failure is None else str(failure),
            "version": importlib.metadata.version("fillmark"),
            "coolprop": facade.coolprop_version(),
            "now": here.clock.now_s(),
            "position": keeper.workshop.position,
            "durable_position": keeper.writer.durable,
            "pending": keeper.writer.pending,
            "refused": dict(sorted(here.refusals.counts.items())),
        }
    )
