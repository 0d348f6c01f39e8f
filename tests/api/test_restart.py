"""Start: the log is folded as it was taken. What was acknowledged survives kill -9, once."""

from __future__ import annotations

import asyncio
import json
import os
import signal
import socket
import sqlite3
import sys
import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, closing
from pathlib import Path
from typing import TYPE_CHECKING

import httpx
import pytest

from fillmark.api.app import create_app
from fillmark.api.restore import open_log, restored
from fillmark.api.settings import Settings
from fillmark.api.snapshots import State
from fillmark.store.log import LogDamagedError
from fillmark.wire.clock import Clock

if TYPE_CHECKING:
    from tests.api.conftest import HandClock, MakeDesk

START_S = 1_800_000_000.0
SERVICE = """
import sys
from pathlib import Path
from fillmark.api import snapshots
from fillmark.api.server import ServeError, serve
from fillmark.api.settings import Settings
snapshots.EVERY_EVENTS = 100  # so that a kill falls between two snapshots, or into one
try:
    settings = Settings(database=Path(sys.argv[1]), warm_up=False)
    serve(settings, port=int(sys.argv[2]), ready=lambda url: print(url, flush=True))
except ServeError as error:
    sys.exit(str(error))
except KeyboardInterrupt:
    pass
"""


async def test_a_restart_changes_nothing(make_desk: MakeDesk, hand: HandClock, tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    async with make_desk(database=path) as desk:
        await desk.open()
        await desk.act("bay-1.1", "step.begin", step="charging")
        await desk.act("bay-1.1", "container.mount", container="C1", net="340 g")
        hand.elapsed_s = 20.0
        for n in range(40):
            await desk.mass(1.0 - n * 1e-3, START_S + n / 4.0)
        hand.elapsed_s = 60.0
        desk.keeper.ticker._fire()
        view = (await desk.http.get("/v1/jobs/bay-1.1")).content
        bays = (await desk.http.get("/v1/bays")).content
        journal = desk.keeper.workshop.jobs["bay-1.1"].journal
        action_s = desk.keeper.bays["bay-1"].action_s
    assert journal
    hand.elapsed_s = 0.0
    async with make_desk(database=path) as desk:
        hand.elapsed_s = 60.0
        assert (await desk.http.get("/v1/jobs/bay-1.1")).content == view
        assert (await desk.http.get("/v1/bays")).content == bays
        assert desk.keeper.workshop.jobs["bay-1.1"].journal == journal
        assert desk.keeper.bays["bay-1"].action_s == action_s
        assert (await desk.mass(1.0, START_S)).json()["duplicate"] == 1


async def test_a_clock_that_was_set_back_keeps_the_actions_in_order(
    make_desk: MakeDesk, hand: HandClock, tmp_path: Path
) -> None:
    path = tmp_path / "log.db"
    async with make_desk(database=path) as desk:
        hand.elapsed_s = 100.0
        await desk.open()
    hand.elapsed_s = 0.0
    async with make_desk(database=path) as desk:
        answer = await desk.act("bay-1.1", "note", text="after")
        assert answer.json()["at"] == pytest.approx(START_S + 100.000001, abs=2e-6)


@pytest.mark.parametrize(
    ("pack", "says"),
    [
        ('[{"n":"bay-1/action","t":1800000000.5,"vs":"{\\"type\\":\\"step.end\\"}"}]', "position 2 of the log"),
        ("[broken", "position 2 of the log"),
    ],
)
async def test_an_entry_that_cannot_be_folded_stops_the_start(
    make_desk: MakeDesk, tmp_path: Path, pack: str, says: str
) -> None:
    path = tmp_path / "log.db"
    async with make_desk(database=path) as desk:
        await desk.open()
    with closing(sqlite3.connect(path)) as log:
        log.execute("INSERT INTO entry VALUES (2, 1800000001.0, 'bay-1', ?)", (pack,))
        log.commit()
    app = create_app(Settings(database=path, warm_up=False))
    with pytest.raises(LogDamagedError, match=says):
        async with app.router.lifespan_context(app):
            pass
    assert "Nothing was changed" in str(app.state.service.failure)


async def test_a_gap_in_the_log_stops_the_start(make_desk: MakeDesk, tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    async with make_desk(database=path) as desk:
        for n in range(3):
            await desk.mass(1.0, START_S + n)
    with closing(sqlite3.connect(path)) as log:
        log.execute("DELETE FROM entry WHERE position = 2")
        log.commit()
    app = create_app(Settings(database=path, warm_up=False))
    with pytest.raises(LogDamagedError, match="gap before position 3"):
        async with app.router.lifespan_context(app):
            pass


def free_port() -> int:
    with closing(socket.socket()) as taken:
        taken.bind(("127.0.0.1", 0))
        port: int = taken.getsockname()[1]
    return port


@asynccontextmanager
async def process(path: Path, port: int) -> AsyncIterator[asyncio.subprocess.Process]:
    command = (sys.executable, "-c", SERVICE, str(path), str(port))
    pipe = asyncio.subprocess.PIPE
    running = await asyncio.create_subprocess_exec(*command, stdout=pipe, stderr=pipe)
    try:
        assert running.stdout is not None
        line = await asyncio.wait_for(running.stdout.readline(), 20.0)
        assert line.startswith(b"http://127.0.0.1:"), line
        yield running
    finally:
        if running.returncode is None:
            running.kill()
        await running.communicate()


async def test_everything_acknowledged_survives_kill_minus_9_once(tmp_path: Path) -> None:
    path, port = tmp_path / "log.db", free_port()
    acknowledged: set[float] = set()
    now = time.time()

    async def post(http: httpx.AsyncClient, worker: int) -> None:
        for n in range(10_000):
            at = round(now - 1000.0 + worker + n * 1e-3, 6)
            body = [{"n": f"bay-1/probe-{worker}/temperature", "u": "Cel", "t": at, "v": 20.0}]
            try:
                answer = await http.post("/v1/readings", json=body)
            except httpx.TransportError:
                return
            assert answer.json()["accepted"] == 1
            acknowledged.add(at)

    async with process(path, port) as running, httpx.AsyncClient(base_url=f"http://127.0.0.1:{port}") as http:
        workers = [asyncio.create_task(post(http, worker)) for worker in range(16)]
        while len(acknowledged) < 250:  # noqa: ASYNC110 - the workers tell nobody
            await asyncio.sleep(0.01)
        os.kill(running.pid, signal.SIGKILL)
        await asyncio.gather(*workers)

    with closing(sqlite3.connect(path)) as log:
        packs = [json.loads(row[0]) for row in log.execute("SELECT pack FROM entry ORDER BY position")]
        positions = [row[0] for row in log.execute("SELECT position FROM entry ORDER BY position")]
    times = [record["t"] for pack in packs for record in pack]
    assert positions == list(range(1, len(positions) + 1))
    assert len(times) == len(set(times))
    assert acknowledged <= set(times)

    async with process(path, port), httpx.AsyncClient(base_url=f"http://127.0.0.1:{port}") as http:
        assert (await http.get("/health")).json()["position"] == len(positions)
        sample = min(acknowledged)
        worker = int(sample - (now - 1000.0) + 1e-6)
        body = [{"n": f"bay-1/probe-{worker}/temperature", "u": "Cel", "t": sample, "v": 20.0}]
        assert (await http.post("/v1/readings", json=body)).json()["duplicate"] == 1
    assert await folded(path) == await folded(path, without_snapshots=True)


async def folded(path: Path, *, without_snapshots: bool = False) -> State:
    """What a start makes of the log."""
    with closing(sqlite3.connect(path)) as database:
        if without_snapshots:
            database.execute("DELETE FROM snapshot")
            database.commit()
        assert without_snapshots or list(database.execute("SELECT * FROM snapshot"))
    settings = Settings(database=path)
    log = await open_log(settings)
    try:
        return (await restored(settings, log, Clock())).state()
    finally:
        await log.close()


async def test_a_second_process_is_refused_and_an_interrupt_stops_the_first_at_once_with_a_stream_open(
    tmp_path: Path,
) -> None:
    path, port = tmp_path / "log.db", free_port()
    async with process(path, port) as running, httpx.AsyncClient(base_url=f"http://127.0.0.1:{port}") as http:
        command = (sys.executable, "-c", SERVICE, str(path), str(free_port()))
        second = await asyncio.create_subprocess_exec(*command, stderr=asyncio.subprocess.PIPE)
        body = {
            "circuit": {"refrigerant": "R-134a", "charge_min": "480 g", "charge_max": "520 g"},
            "scale": {"resolution": "1 g"},
        }
        assert (await http.post("/v1/jobs?bay=bay-1", json=body)).status_code == 201
        _, said = await asyncio.wait_for(second.communicate(), 20.0)
        assert second.returncode == 1
        assert said.decode().strip() == f"{path} is in use by another service: stop that one, or name another file"
        async with http.stream("GET", "/v1/jobs/bay-1.1/stream") as stream:
            lines = stream.aiter_lines()
            await anext(lines)
            began = time.perf_counter()
            running.send_signal(signal.SIGINT)
            async for _ in lines:
                pass
            _, errors = await asyncio.wait_for(running.communicate(), 5.0)
            assert time.perf_counter() - began < 2.0
    assert b"Cancel" not in errors
    assert b"Error" not in errors
