"""A real service, a hand on its scale, a line between them and the page that can go dead, and a real browser."""

from __future__ import annotations

import asyncio
import contextlib
import shutil
import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import httpx
import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright

from fillmark.api.server import Server, make_server
from fillmark.api.settings import Settings

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
AMPLE_S = 30.0
OPEN: dict[str, Any] = {
    "circuit": {"refrigerant": "R-134a", "charge_min": "45 g", "charge_max": "55 g"},
    "hose": {"length": "1 m", "bore": "3 mm"},
    "scale": {"resolution": "1 g"},
}


class Shop:
    """A service in a thread. It can be stopped and started again on the same port with the same log."""

    def __init__(self, database: Path) -> None:
        self._database = database
        self._server: Server | None = None
        self._thread: threading.Thread | None = None
        self.port = 0
        self.start()
        self.http = httpx.Client(base_url=self.url, timeout=20.0, trust_env=False)

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        server, listening = make_server(Settings(database=self._database), port=self.port)
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
