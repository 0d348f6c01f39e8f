"""A real service with a charge that can be moved on, for the examples of the documentation."""

from __future__ import annotations

import base64
import itertools
import os
import queue
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO, TYPE_CHECKING

import httpx
import pytest

if TYPE_CHECKING:
    from tests.conftest import Broker


AMPLE_S = 60.0
SECRET = "whsec_" + base64.b64encode(bytes(range(32))).decode()
EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"


class Program:
    """A process whose lines are read as they come."""

    def __init__(self, *command: object, **environment: str) -> None:
        self.process = subprocess.Popen(
            [str(each) for each in command],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            stdin=subprocess.DEVNULL,
            env={**os.environ, "PYTHONUNBUFFERED": "1", **environment},
        )
        assert self.process.stdout is not None
        self.said: list[str] = []
        self._lines: queue.Queue[str | None] = queue.Queue()
        self._reader = threading.Thread(target=self._read, args=(self.process.stdout,), daemon=True)
        self._reader.start()

    def until(self, text: str) -> str:
        """The next line that holds `text`."""
        deadline = time.monotonic() + AMPLE_S
        while (left_s := deadline - time.monotonic()) > 0.0:
            try:
                line = self._lines.get(timeout=left_s)
            except queue.Empty:
                break
            if line is None:
                break
            self.said.append(line)
            if text in line:
                return line
        pytest.fail(f"{text!r} was not said: {self.said}")

    def stop(self) -> None:
        """End it."""
        self.process.kill()
        self.process.wait(AMPLE_S)
        self._reader.join(AMPLE_S)
        if self.process.stdout is not None:
            self.process.stdout.close()

    def _read(self, stream: IO[bytes]) -> None:
        for line in stream:
            self._lines.put(line.decode().rstrip("\n"))
        self._lines.put(None)


Start = Callable[..., Program]


@pytest.fixture(scope="module")
def start() -> Iterator[Start]:
    """Starts programs and ends them when the module is done."""
    with ExitStack() as stack:

        def make(*command: object, **environment: str) -> Program:
            made = Program(*command, **environment)
            stack.callback(made.stop)
            return made

        yield make


@dataclass(frozen=True)
class Service:
    """A running service, with somebody who receives its webhooks and a broker that it publishes to."""

    http: httpx.Client
    receiver: Program
    hook: str
    broker: Broker

    @property
    def url(self) -> str:
        """Its address."""
        return str(self.http.base_url).rstrip("/")


@dataclass(frozen=True)
class Bay:
    """A bay with an open job and a running engine."""

    name: str
    http: httpx.Client
    keys: Iterator[int] = field(default_factory=itertools.count)

    @property
    def job(self) -> str:
        """Its job."""
        return f"{self.name}.1"

    def act(self, type_: str, **fields: object) -> None:
        """What the technician does."""
        headers = {"Idempotency-Key": f"{self.name}-{next(self.keys)}"}
        path = f"/v1/jobs/{self.job}/actions"
        self.http.post(path, json={"type": type_, **fields}, headers=headers).raise_for_status()

    def raise_a_stop_point(self) -> None:
        """Open the wrong valve."""
        self.act("valve", valve="high", open=True)


@pytest.fixture(scope="module")
def service(
    start: Start, start_broker: Callable[[Path], Broker], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Service]:
    """One service for all examples. The webhook's receiver is itself an example."""
    folder = tmp_path_factory.mktemp("service")
    broker = start_broker(folder)
    receiver = start(sys.executable, EXAMPLES / "receiver.py", 0, FILLMARK_WEBHOOK_SECRET=SECRET)
    hook = f"http://127.0.0.1:{receiver.until('receiving on port').split()[-1]}/hook"
    command = (sys.executable, "-m", "fillmark", "serve", "--port", 0, "--database", folder / "log.sqlite")
    outlets = ("--webhook", hook, "--mqtt", broker.url, "--mqtt-prefix", "shop")
    served = start(*command, *outlets, FILLMARK_WEBHOOK_SECRET=SECRET)
    url = served.until("Fillmark serves").split()[2]
    with httpx.Client(base_url=url, timeout=AMPLE_S, trust_env=False) as http:
        yield Service(http, receiver, hook, broker)


@pytest.fixture
def bay(service: Service, request: pytest.FixtureRequest) -> Bay:
    """A bay of this test's own, with a reading of its scale just now."""
    name = "".join(c if c.isalnum() else "-" for c in request.node.name)
    job = {
        "bay": name, "aim": "mid", "scale": {"resolution": "1 g", "class": "III"},
        "circuit": {"refrigerant": "R-134a", "charge_min": "480 g", "charge_max": "520 g"},
        "hose": {"length": "1.8 m", "bore": "4.8 mm"},
    }  # fmt: skip
    service.http.post("/v1/jobs", json=job).raise_for_status()
    made = Bay(name, service.http)
    made.act("engine", running=True)
    pack = [{"n": f"{name}/scale/mass", "u": "kg", "v": 1.2}]
    service.http.post("/v1/readings", json=pack).raise_for_status()
    return made


@pytest.fixture
def examples() -> Path:
    """The folder of the examples."""
    return EXAMPLES
