"""The application: middleware, errors, routes, and its life from start to stop."""

from __future__ import annotations

import importlib.metadata
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import FastAPI
from starlette.middleware.cors import CORSMiddleware

from fillmark.api import (
    bays,
    containers,
    course,
    cycle,
    health,
    job_log,
    jobs,
    openapi,
    plan,
    readings,
    records,
    refrigerants,
    stock,
    stream,
)
from fillmark.api.access import Access, ClockDate
from fillmark.api.feed import ServiceFeed
from fillmark.api.outlets import describe_webhooks, make_outlets
from fillmark.api.pages import Pages
from fillmark.api.restore import open_log, started
from fillmark.api.service import Service
from fillmark.api.settings import Settings
from fillmark.api.warm_up import WarmUp
from fillmark.outlets.run import Outlets
from fillmark.wire.clock import Clock

_ROUTERS = (
    readings.router,
    jobs.router,
    stream.router,
    job_log.router,
    records.router,
    course.router,
    cycle.router,
    plan.router,
    containers.router,
    stock.router,
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

    Raises:
        MissingExtraError: the settings ask for something whose package is not installed.
    """
    service = Service(settings, clock or Clock(), outlets=make_outlets(settings))
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
    # What names people, it does not read: see `Access`.
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
    describe_webhooks(app)
    openapi.install(app)
    app.router.default = Pages()
    return app


@asynccontextmanager
async def _lifespan(app: FastAPI) -> AsyncIterator[None]:
    service: Service = app.state.service
    warm_up = WarmUp()
    try:
        log = await open_log(service.settings)
        if service.settings.warm_up:
            warm_up.begin()
        service.running = await started(service.settings, log, service.clock)
    except BaseException as error:
        service.failure = error
        warm_up.end()
        raise
    outlets = Outlets(service.outlets, ServiceFeed(service.running, service.clock))
    try:
        yield
    finally:
        service.running.end_streams()
        await outlets.stop()
        await service.running.stop()
        warm_up.end()
