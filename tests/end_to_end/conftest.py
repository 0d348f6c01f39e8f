"""A shop of real processes: a service and agents on loopback that share a clock faster than life."""

from __future__ import annotations

import json
import os
import signal
import socket
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, suppress
from dataclasses import dataclass, field
from pathlib import Path
from shutil import copyfile
from typing import Any

import httpx
import pytest

from fillmark.wire.senml import Record, decode

AMPLE_S = 60.0
POLL_S = 0.02


def until(what: str, true: Callable[[], bool], within_s: float = AMPLE_S) -> None:
    """Wait for a condition; the test fails with `what` when it does not come."""
    deadline = time.monotonic() + within_s
    while not true():
        if time.monotonic() > deadline:
            pytest.fail(f"waited {within_s:g} s for {what}")
        time.sleep(POLL_S)


def free_port() -> int:
    """A port that nobody uses now."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port: int = probe.getsockname()[1]
        return port


class Part:
    """One process of the product, in a process group of its own, its messages in a file."""

    def __init__(self, log: Path, *arguments: str, **environment: str) -> None:
        self.log = log
        with log.open("ab") as messages:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "fillmark", *arguments],
                stdout=messages,
                stderr=messages,
                stdin=subprocess.DEVNULL,
                env={**os.environ, **environment},
                start_new_session=True,
            )

    @property
    def group(self) -> int:
        return self.process.pid

    @property
    def said(self) -> str:
        return self.log.read_text(encoding="utf-8")

    def signal(self, number: signal.Signals) -> None:
        """Send a signal to the whole group, as a terminal or a supervisor does."""
        with suppress(ProcessLookupError):
            os.killpg(self.group, number)

    def kill(self) -> None:
        """Kill -9 and wait until it is gone."""
        self.signal(signal.SIGKILL)
        self.process.wait(AMPLE_S)

    def alive(self) -> bool:
        """Whether any process of the group is left."""
        self.process.poll()
        try:
            os.killpg(self.group, 0)
        except ProcessLookupError:
            return False
        return True


@dataclass
class Shop:
    """A service with its log and an agent with its spool, in one folder."""

    folder: Path
    speed: float
    epoch_s: float = field(default_factory=time.time)
    parts: list[Part] = field(default_factory=list)
    http: httpx.Client = field(init=False)
    port: int = field(default_factory=free_port)

    def __post_init__(self) -> None:
        self.folder.mkdir(parents=True, exist_ok=True)
        self.http = httpx.Client(base_url=self.url, timeout=10.0, trust_env=False)

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    @property
    def spool(self) -> Path:
        return self.folder / "spool.sqlite"

    @property
    def _clock(self) -> tuple[str, ...]:
        return ("--clock-epoch", repr(self.epoch_s), "--clock-speed", repr(self.speed))

    def now_s(self) -> float:
        """The shop's clock, Unix seconds."""
        return self.epoch_s + self.speed * (time.time() - self.epoch_s)

    def serve(self) -> Part:
        """Start the service and wait until it answers."""
        return self.answering(self.start())

    def start(self) -> Part:
        """Start the service, always with the same port and the same database."""
        arguments = ("serve", "--port", str(self.port), "--database", str(self.folder / "log.sqlite"))
        part = Part(self.folder / "service.log", *arguments, *self._clock)
        self.parts.append(part)
        return part

    def answering(self, part: Part) -> Part:
        """Wait until a service answers."""
        until("the service to answer", lambda: self._well(part))
        return part

    def _well(self, part: Part) -> bool:
        if part.process.poll() is not None:
            pytest.fail(f"the service ended: {part.said}")
        try:
            return self.http.get("/health").is_success
        except httpx.HTTPError:
            return False

    def agent(self, device: str) -> Part:
        """Start an agent with one device, always with the same spool."""
        config = self.folder / "bay.toml"
        head = f'[service]\nurl = "{self.url}"\n[spool]\npath = "spool.sqlite"\n[uplink]\nbackoff_cap_s = 0.5\n'
        config.write_text(f'{head}[log]\nlevel = "warning"\n[[devices]]\nname = "bay"\nbay = "bay-1"\n{device}\n')
        part = Part(self.folder / "agent.log", "agent", "--config", str(config), *self._clock)
        self.parts.append(part)
        return part

    def get(self, path: str) -> dict[str, Any]:
        """What the service answers."""
        answer = self.http.get(path)
        answer.raise_for_status()
        found: dict[str, Any] = answer.json()
        return found

    def holds(self, mass_kg: float) -> bool:
        """Whether more than so much is in the circuit, by what is on the disk."""
        glance = self.get("/v1/bays/bay-1/glance")
        durable = self.get("/health")["durable_position"]
        return (glance["charged_kg"] or 0.0) > mass_kg and durable >= glance["position"]

    def job(self) -> dict[str, Any]:
        """The only job, as a display gets it."""
        (row,) = self.get("/v1/jobs")["jobs"]
        return self.get(f"/v1/jobs/{row['job']}")

    def until_closed(self) -> dict[str, Any]:
        """Wait for the job to be closed, and for everything to be on the disk."""

        def closed() -> bool:
            jobs = self.get("/v1/jobs")["jobs"]
            return bool(jobs) and jobs[0]["closed_at"] is not None

        until("job.close", closed)
        return self.job()

    def exported(self) -> str:
        """The log of the job in its stream format."""
        job = self.get("/v1/jobs")["jobs"][0]["job"]
        answer = self.http.get(f"/v1/jobs/{job}/log", params={"format": "stream"})
        answer.raise_for_status()
        return answer.text

    def logged(self) -> list[Record]:
        """What devices and technician have sent, in the log's order. Ticks and positions are the service's own."""
        records = [record for line in self.exported().splitlines() for record in decode(line, now_s=0.0)]
        return [r for r in records if not r.name.startswith("fillmark/") and not r.name.endswith("/tick")]

    def spooled(self) -> list[Record]:
        """What waits in the spool, read from a copy. The agent must be stopped or dead."""
        copy = self.folder / "copy.sqlite"
        if not self.spool.exists():
            return []
        copyfile(self.spool, copy)
        log = self.spool.with_name(self.spool.name + "-wal")
        if log.exists():
            copyfile(log, f"{copy}-wal")
        with sqlite3.connect(copy) as file:
            made = file.execute("SELECT 1 FROM sqlite_master WHERE name = 'packs'").fetchone()
            rows = file.execute("SELECT body FROM packs ORDER BY id").fetchall() if made else []
        file.close()
        for name in (str(copy), f"{copy}-wal", f"{copy}-shm"):
            Path(name).unlink(missing_ok=True)
        return [record for (body,) in rows for record in decode(body, now_s=0.0)]

    def close(self) -> None:
        for part in reversed(self.parts):
            part.kill()
        self.http.close()


OpenShop = Callable[..., Shop]
StartPart = Callable[..., Part]


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[OpenShop]:
    """Opens shops, each in its own folder, and kills what is left of them at the end."""
    with ExitStack() as stack:

        def make(name: str, speed: float, epoch_s: float | None = None) -> Shop:
            made = Shop(tmp_path / name, speed, time.time() if epoch_s is None else epoch_s)
            stack.callback(made.close)
            return made

        yield make


@pytest.fixture
def part(tmp_path: Path) -> Iterator[StartPart]:
    """Starts single commands and kills what is left of their process groups at the end."""
    with ExitStack() as stack:

        def start(*arguments: str, **environment: str) -> Part:
            made = Part(tmp_path / "said.log", *arguments, **environment)
            stack.callback(made.kill)
            return made

        yield start


@pytest.fixture
def wait() -> Callable[..., None]:
    """Waits for a condition, at most so many seconds: `wait("what", lambda: …)`."""
    return until


@pytest.fixture
def replayed() -> Callable[[str], dict[str, Any]]:
    """What `fillmark replay --json --full` makes of a stream: its only job."""

    def run(stream: str) -> dict[str, Any]:
        command = [sys.executable, "-m", "fillmark", "replay", "-", "--json", "--full"]
        done = subprocess.run(command, input=stream.encode(), capture_output=True, check=False, timeout=AMPLE_S)
        assert done.returncode == 0, done.stderr.decode()
        (job,) = json.loads(done.stdout)["jobs"]
        view: dict[str, Any] = job
        return view

    return run
