"""The application: middleware, errors, routes, and its life from start to stop."""

from __future__ import annotations

import importlib.metadata
import logging
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import FastAPI
from starlette.middleware.cors import CORSMiddleware

from fillmark.api import bays, health, job_log, jobs, readings, refrigerants, stream
from fillmark.api.access import Access, ClockDate
from fillmark.api.pages import Pages
from fillmark.api.restore import started
from fillmark.api.service import Service
from fillmark.api.settings import Settings
from fillmark.refrigerants import facade
from fillmark.wire.clock import Clock

_LOG = logging.getLogger(__name__)
_ROUTERS = (
    readings.router,
    jobs.router,
    stream.router,
    job_log.router,
    bays.router,
    refrigerants.router,
    health.router,
)
_ABOUT = """Weighs refrigerant into an air-conditioning circuit, live, and says when to stop.

Numbers are in SI with the unit in the name; a quantity that is sent may also be a text with a unit ("520 g").
`…_u_kg` is a standard uncertainty (k = 1). Unknown is null. Times are Unix seconds of the service's clock.
Every error is a problem document (RFC 9457)."""


def create_app(settings: Settings, *, clock: Clock | None = None) -> FastAPI:
    """The service as an ASGI application. The log is opened and folded in its lifespan.

    Args:
        settings: what can be set.
        clock: the clock of everything; the machine's own by default.
    """
    service = Service(settings, clock or Clock())
    app = FastAPI(
        title="Fillmark",
        version=importlib.metadata.version("fillmark"),
        description=_ABOUT,
        lifespan=_lifespan,
        docs_url=None,  # its pages come from a network that a workshop may not have
        redoc_url=None,
    )
    app.state.service = service
    service.refusals.install(app)
    app.add_middleware(Access, settings=settings, answer=service.refusals)
    # A display may be a page from anywhere: what it reads holds no secret, carries no cookie, and changes nothing.
    app.add_middleware(
        CORSMiddleware,
        allow_origins=list(dict.fromkeys((*settings.read_origins, *settings.write_origins))),
        allow_methods=["GET", "POST"] if settings.write_origins else ["GET"],
        allow_headers=["If-None-Match", "Last-Event-ID", "Authorization", "Content-Type", "Idempotency-Key"],
        expose_headers=["ETag", "Location", "Date"],
    )
    app.add_middleware(ClockDate, clock=service.clock)
    for router in _ROUTERS:
        app.include_router(router)
    app.router.default = Pages()
    return app


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    service: Service = app.state.service
    if service.settings.warm_up:
        # The import holds the interpreter for over a second. Better now than at the first reading.
        facade.get("R-134a").dew_pressure_pa(280.0)
        threading.Thread(target=_warm_up, name="warm-up", daemon=True).start()
    try:
        keeper = await started(service.settings, service.clock)
    except BaseException as error:
        service.failure = error
        raise
    service.running = keeper
    try:
        yield
    finally:
        await keeper.stop()


def _warm_up() -> None:
    """Make every refrigerant's curves ready, so that opening a job takes no tenth of a second."""
    for name in facade.names():
        try:
            facade.get(name).dew_pressure_pa(250.0)
        except ValueError:
            _LOG.exception("%s cannot be made ready", name)
