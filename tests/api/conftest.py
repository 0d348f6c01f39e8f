"""A service in the test's own loop, a clock set by hand, and a desk that talks to the service."""

from __future__ import annotations

import asyncio
import itertools
from collections.abc import AsyncIterator, Awaitable, Callable
from contextlib import AbstractAsyncContextManager, asynccontextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, cast

import httpx
import pytest
from fastapi import FastAPI

from fillmark.api.app import create_app
from fillmark.api.keeper import Keeper
from fillmark.api.server import make_server
from fillmark.api.settings import Settings
from fillmark.wire.clock import Clock

START_S = 1_800_000_000.0
OPEN: dict[str, Any] = {
    "circuit": {"refrigerant": "R-134a", "charge_min": "480 g", "charge_max": "520 g", "volume": "2.4 L"},
    "aim": "mid",
    "hose": {"length": "1.8 m", "bore": "4.8 mm"},
    "scale": {"resolution": "1 g", "class": "III"},
}


@dataclass
class HandClock:
    """Time that moves when a test says so."""

    elapsed_s: float = 0.0

    def clock(self) -> Clock:
        return Clock(wall=lambda: START_S, elapsed=lambda: self.elapsed_s)


@dataclass
class Desk:
    """One running service, and short ways to ask it."""

    app: FastAPI
    http: httpx.AsyncClient
    keys: itertools.count[int] = field(default_factory=itertools.count)

    @property
    def keeper(self) -> Keeper:
        return cast("Keeper", self.app.state.service.keeper)

    async def open(self, bay: str = "bay-1", **fields: object) -> httpx.Response:
        return await self.http.post(f"/v1/jobs?bay={bay}", json={**OPEN, **fields})

    async def act(self, job: str, type_: str, *, key: str | None = None, **fields: object) -> httpx.Response:
        headers = {"Idempotency-Key": key or f"key-{next(self.keys)}"}
        return await self.http.post(f"/v1/jobs/{job}/actions", json={"type": type_, **fields}, headers=headers)

    async def send(self, *records: dict[str, object]) -> httpx.Response:
        return await self.http.post("/v1/readings", json=list(records))

    async def mass(self, kg: float, at: float, bay: str = "bay-1") -> httpx.Response:
        return await self.send({"n": f"{bay}/scale/mass", "u": "kg", "t": at, "v": kg})


MakeDesk = Callable[..., AbstractAsyncContextManager[Desk]]
Serve = Callable[..., AbstractAsyncContextManager[Desk]]
Until = Callable[[Callable[[], bool]], Awaitable[None]]


@pytest.fixture
def hand() -> HandClock:
    return HandClock()


@pytest.fixture
def make_desk(hand: HandClock) -> MakeDesk:
    """A service without a socket. Its answers come whole, so streams need `serve`."""

    @asynccontextmanager
    async def make(clock: Clock | None = None, **settings: object) -> AsyncIterator[Desk]:
        given = Settings.model_validate({"warm_up": False, **settings})
        app = create_app(given, clock=clock or hand.clock())
        transport = httpx.ASGITransport(app=app, raise_app_exceptions=False)
        async with (
            app.router.lifespan_context(app),
            httpx.AsyncClient(transport=transport, base_url="http://localhost") as http,
        ):
            yield Desk(app, http)

    return make


@pytest.fixture
def still_desk(make_desk: MakeDesk) -> MakeDesk:
    """The same, but no tick comes by itself, however long the machine takes."""

    @asynccontextmanager
    async def make(**settings: object) -> AsyncIterator[Desk]:
        async with make_desk(**settings) as made:
            made.keeper.ticker.stop()
            yield made

    return make


@pytest.fixture
async def desk(make_desk: MakeDesk) -> AsyncIterator[Desk]:
    async with make_desk() as made:
        yield made


@pytest.fixture
async def disk_desk(make_desk: MakeDesk, tmp_path: Path) -> AsyncIterator[Desk]:
    async with make_desk(database=tmp_path / "log.db") as made:
        yield made


@pytest.fixture
def serve() -> Serve:
    """A service behind a socket of this machine."""

    @asynccontextmanager
    async def make(clock: Clock | None = None, **settings: object) -> AsyncIterator[Desk]:
        ready: asyncio.Future[str] = asyncio.get_running_loop().create_future()
        given = Settings.model_validate({"warm_up": False, **settings})
        server, listening = make_server(given, clock=clock, ready=ready.set_result)
        running = asyncio.create_task(server.serve([listening]))
        async with httpx.AsyncClient(base_url=await ready, timeout=10.0) as http:
            yield Desk(cast("FastAPI", server.config.app), http)
        server.should_exit = True
        await asyncio.wait_for(running, 5.0)

    return make


@pytest.fixture
def until() -> Until:
    """Waits until something is true; the test fails when that takes too long."""

    async def wait(true: Callable[[], bool]) -> None:
        async with asyncio.timeout(5.0):
            while not true():  # noqa: ASYNC110 - what is waited for tells nobody
                await asyncio.sleep(0.005)

    return wait
