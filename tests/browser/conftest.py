"""A real service, a hand on its scale, a line between them and the page that can go dead, and a real browser."""

from __future__ import annotations

import asyncio
import contextlib
import shutil
import socket
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import httpx
import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright

from fillmark.api.packs import identity_of
from fillmark.api.server import Server, make_server
from fillmark.api.settings import Settings
from fillmark.store.log import LogEntry
from fillmark.store.sqlite import SqliteLog
from fillmark.wire import senml
from fillmark.wire.clock import Clock

STREAMS = Path(__file__).parents[2] / "demo_streams"
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
AMPLE_S = 30.0
OPEN: dict[str, Any] = {
    "circuit": {"refrigerant": "R-134a", "charge_min": "45 g", "charge_max": "55 g"},
    "hose": {"length": "1 m", "bore": "3 mm"},
    "scale": {"resolution": "1 g"},
}


class Shop:
    """A service in a thread. It can be stopped and started again on the same port with the same log."""

    def __init__(self, database: Path, clock: Clock | None = None) -> None:
        self._database = database
        self._clock = clock
        self._server: Server | None = None
        self._thread: threading.Thread | None = None
        self.port = 0
        self.start()
        self.http = httpx.Client(base_url=self.url, timeout=20.0, trust_env=False)

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        server, listening = make_server(Settings(database=self._database), port=self.port, clock=self._clock)
        self.port = listening.getsockname()[1]
        self._server = server
        self._thread = threading.Thread(target=lambda: asyncio.run(server.serve([listening])), daemon=True)
        self._thread.start()
        until(lambda: server.started)

    def stop(self) -> None:
        assert self._server is not None
        assert self._thread is not None
        self._server.should_exit = True
        self._thread.join(AMPLE_S)
        assert not self._thread.is_alive()

    def open(self, bay: str = "bay-1", **more: object) -> str:
        answer = self.http.post(f"/v1/jobs?bay={bay}", json={**OPEN, **more})
        answer.raise_for_status()
        return str(answer.json()["job"])

    def act(self, job: str, type_: str, **fields: object) -> None:
        headers = {"Idempotency-Key": str(time.monotonic_ns())}
        answer = self.http.post(f"/v1/jobs/{job}/actions", json={"type": type_, **fields}, headers=headers)
        assert answer.status_code == 200, answer.text

    def view(self, job: str = "bay-1.1") -> dict[str, Any]:
        view: dict[str, Any] = self.http.get(f"/v1/jobs/{job}").json()
        return view


class Scale:
    """A container on a scale that speaks five times a second until it is told to be silent."""

    def __init__(self, url: str, bay: str = "bay-1") -> None:
        self.mass_kg = 0.5
        self.flow_kg_s = 0.0
        self.spoke_at = 0.0
        self._bay, self._url = bay, url
        self._silent = threading.Event()
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._thread.start()

    def _run(self) -> None:
        last = time.monotonic()
        with httpx.Client(base_url=self._url, timeout=5.0, trust_env=False) as http:
            while not self._silent.wait(0.2):
                now = time.monotonic()
                self.mass_kg -= self.flow_kg_s * (now - last)
                last = now
                with contextlib.suppress(httpx.HTTPError):
                    http.post("/v1/readings", json=self._pack())
                    self.spoke_at = time.monotonic()

    def _pack(self) -> list[dict[str, object]]:
        base: dict[str, object] = {"bn": f"{self._bay}/"}
        pressures = [{"n": "low/pressure", "u": "Pa", "v": 290e3}, {"n": "high/pressure", "u": "Pa", "v": 1.02e6}]
        return [{**base, "n": "scale/mass", "u": "kg", "v": round(self.mass_kg, 3)}, *pressures]

    def silence(self) -> float:
        """No reading from now on. The monotonic time of the last one."""
        self._silent.set()
        self._thread.join(AMPLE_S)
        return self.spoke_at


class Line:
    """A network between page and service that can lose every packet without telling either end."""

    def __init__(self, port: int) -> None:
        self._to = port
        self._alive = threading.Event()
        self._alive.set()
        self._listening = socket.create_server(("127.0.0.1", 0))
        self.port = self._listening.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def cut(self) -> None:
        self._alive.clear()

    def mend(self) -> None:
        self._alive.set()

    def _accept(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                near, _ = self._listening.accept()
                far = socket.create_connection(("127.0.0.1", self._to))
                for one, other in ((near, far), (far, near)):
                    threading.Thread(target=self._carry, args=(one, other), daemon=True).start()

    def _carry(self, one: socket.socket, other: socket.socket) -> None:
        with contextlib.suppress(OSError), one, other:
            while data := one.recv(65536):
                self._alive.wait()
                other.sendall(data)

    def close(self) -> None:
        self._alive.set()
        self._listening.close()


def until(true: Callable[[], bool], within_s: float = AMPLE_S) -> None:
    """Wait for a condition."""
    deadline = time.monotonic() + within_s
    while not true():
        assert time.monotonic() < deadline, "it did not come"
        time.sleep(0.05)


@pytest.fixture(scope="module")  # while it lives its event loop counts as running, and no asynchronous test can run
def browser() -> Iterator[Browser]:
    if CHROMIUM is None:
        pytest.skip("chromium is not installed; the page is tried in it where it is")
    expect.set_options(timeout=AMPLE_S * 1e3)
    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu"])
        yield started
        started.close()


@pytest.fixture
def cleanup() -> Iterator[ExitStack]:
    with ExitStack() as stack:
        yield stack


@pytest.fixture
def shop(tmp_path: Path, cleanup: ExitStack) -> Shop:
    made = Shop(tmp_path / "log.sqlite")
    cleanup.callback(made.stop)
    cleanup.callback(made.http.close)
    return made


@pytest.fixture
def standing(tmp_path: Path, cleanup: ExitStack) -> Callable[[str, float], Shop]:
    """A service that has heard a recorded stream up to a moment, at which its time stands still."""

    def made(stream: str, at_s: float) -> Shop:
        database = tmp_path / f"{at_s:.0f}.sqlite"
        with ThreadPoolExecutor(1) as beside:  # a loop counts as running here as long as there is a browser
            beside.submit(lambda: asyncio.run(write_log(database, stream, at_s))).result()
        shop = Shop(database, Clock(epoch_s=at_s, speed=1e-9))
        cleanup.callback(shop.stop)
        cleanup.callback(shop.http.close)
        return shop

    return made


async def write_log(database: Path, stream: str, at_s: float) -> None:
    """The log of a service that took each line of a recorded stream when it was said."""
    entries: list[LogEntry] = []
    for line in (STREAMS / f"{stream}.senml.jsonl").read_text(encoding="utf-8").splitlines():
        records = senml.decode(line, now_s=at_s)
        last_s = max(one.time_s for one in records)
        if last_s <= at_s:
            entries.append(LogEntry(len(entries) + 1, last_s, "bay-1", line, tuple(map(identity_of, records))))
    log = await SqliteLog.open(database)
    await log.append(entries)
    await log.close()


@pytest.fixture
def scale(shop: Shop, cleanup: ExitStack) -> Scale:
    made = Scale(shop.url)
    cleanup.callback(made.silence)
    return made


@pytest.fixture
def line(shop: Shop, cleanup: ExitStack) -> Line:
    made = Line(shop.port)
    cleanup.callback(made.close)
    return made


@pytest.fixture
def look(browser: Browser, shop: Shop, cleanup: ExitStack) -> Callable[..., Page]:
    """A page in a device of its own: size, touch, theme, language, a script to run before the page's own."""

    def made(
        url: str = "",
        width: int = 1024,
        height: int = 768,
        *,
        settings: str = "{}",
        script: str = "",
        **device: Any,  # noqa: ANN401 - the browser's own options
    ) -> Page:
        device = {"locale": "en-GB", "viewport": {"width": width, "height": height}, **device}
        context = browser.new_context(**device)
        cleanup.callback(context.close)
        context.add_init_script(f"localStorage.setItem('fillmark-settings', {settings!r});{script}")
        page = context.new_page()
        page.set_default_timeout(AMPLE_S * 1e3)
        page.on("pageerror", lambda error: pytest.fail(f"the page has an error: {error}"))
        page.goto(f"{url or shop.url}/?bay=bay-1")
        return page

    return made


def charging(shop: Shop, scale: Scale, draw: str = "vapour") -> str:
    """A job whose container is mounted and weighed, the valves open."""
    job = shop.open()
    shop.act(job, "step.begin", step="charging")
    shop.act(job, "container.mount", container="C1", net="340 g", draw=draw)
    until(lambda: shop.view(job)["mass_at"] is not None)
    shop.act(job, "engine", running=True)
    shop.act(job, "valve", valve="container", open=True)
    shop.act(job, "valve", valve="low", open=True)
    scale.flow_kg_s = 0.004
    return job


@pytest.fixture
def charge(shop: Shop, scale: Scale) -> str:
    return charging(shop, scale)
