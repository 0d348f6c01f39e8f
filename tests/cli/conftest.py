"""The command line within the test's process, and as a process of its own."""

from __future__ import annotations

import json
import os
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from typer.testing import CliRunner

from fillmark.cli import app

BEGIN_S = 1_790_000_000.0
OPEN = {
    "type": "job.open",
    "circuit": {"refrigerant": "R-134a", "charge_min": "330 g", "charge_max": "350 g", "volume": "2.4 L"},
    "aim": "mid",
    "scale": {"resolution": "1 g", "class": "III"},
}


@dataclass(frozen=True)
class Outcome:
    """How a command ended."""

    status: int
    out: str
    err: str

    @property
    def one_line(self) -> str:
        """The only line on stderr."""
        (line,) = self.err.splitlines()
        assert self.err == line + "\n"
        return line


Run = Callable[..., Outcome]


@pytest.fixture
def run() -> Run:
    """`run("replay", "x.senml.jsonl")` in this process."""

    def invoke(*arguments: object, stdin: bytes | None = None) -> Outcome:
        result = CliRunner().invoke(
            app, [str(each) for each in arguments], input=stdin, env={"COLUMNS": "160", "TERMINAL_WIDTH": "160"}
        )
        if result.exception is not None and not isinstance(result.exception, SystemExit):
            raise result.exception
        return Outcome(result.exit_code, result.stdout, result.stderr)

    return invoke


@pytest.fixture
def process() -> Run:
    """`process("replay", "x.senml.jsonl")` in a process of its own."""

    def start(*arguments: object, stdin: bytes | None = None, **environment: str) -> Outcome:
        command = [sys.executable, "-m", "fillmark", *(str(each) for each in arguments)]
        done = subprocess.run(
            command, input=stdin or b"", capture_output=True, check=False, timeout=60, env={**os.environ, **environment}
        )
        return Outcome(done.returncode, done.stdout.decode(), done.stderr.decode())

    return start


def pack(local: str, after_s: float, **value: object) -> str:
    """One line of a stream with one record."""
    return json.dumps([{"n": f"bay-1/{local}", "t": BEGIN_S + after_s, **value}])


def action(after_s: float, type_: str, **fields: object) -> str:
    """One line of a stream with one action."""
    return pack("action", after_s, vs=json.dumps({"type": type_, **fields}))


@pytest.fixture
def lines() -> list[str]:
    """A charge of 340 g at 4 g/s, made by hand: the pan shows 1 kg, then 85 s of flow, then 660 g."""
    opening = [
        pack("action", 0.0, vs=json.dumps(OPEN)),
        action(0.1, "step.begin", step="charging"),
        action(0.2, "container.mount", container="C1", net="500 g", draw="vapour"),
    ]
    weights = []
    for half in range(2, 232):
        drawn_kg = min(max(half / 2.0 - 15.0, 0.0) * 0.004, 0.340)
        weights.append(pack("scale/mass", half / 2.0, u="kg", v=round(1.0 - drawn_kg, 3)))
    valve = {29: True, 199: False}
    for half in (199, 29):
        weights.insert(half - 2, action(half / 2.0 + 0.2, "valve", valve="low", open=valve[half]))
    return [*opening, *weights, action(116.0, "step.end"), action(116.1, "job.close")]


@pytest.fixture
def stream(tmp_path: Path, lines: list[str]) -> Path:
    """That charge as a file."""
    path = tmp_path / "hand.senml.jsonl"
    path.write_text("".join(line + "\n" for line in lines), encoding="utf-8")
    return path


@pytest.fixture
def service(tmp_path: Path) -> Iterator[str]:
    """The address of a real service with an empty log."""
    command = [sys.executable, "-m", "fillmark", "serve", "--port", "0", "--database", str(tmp_path / "log.sqlite")]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as running:
        try:
            assert running.stdout is not None
            yield running.stdout.readline().split()[2]
        finally:
            running.kill()


@pytest.fixture
def silent_port() -> Iterator[int]:
    """A port that is ours and on which nobody listens."""
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        port: int = held.getsockname()[1]
        yield port


@pytest.fixture
def taken_port() -> Iterator[int]:
    """A port of this machine that somebody listens on."""
    with socket.create_server(("127.0.0.1", 0)) as other:
        port: int = other.getsockname()[1]
        yield port
