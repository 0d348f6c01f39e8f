"""`fillmark serve`: it starts and stops cleanly, or says in one line why it cannot."""

from __future__ import annotations

import re
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest

Run = Callable[..., Any]


def test_a_taken_port_is_named(run: Run, tmp_path: Path, taken_port: int) -> None:
    outcome = run("serve", "--port", taken_port, "--database", tmp_path / "log.sqlite")
    assert (outcome.status, outcome.out) == (2, "")
    assert f"127.0.0.1:{taken_port} cannot be listened on" in outcome.one_line
    assert outcome.one_line.endswith("choose another port")
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_is_no_database_is_named_and_left_alone(process: Run, tmp_path: Path) -> None:
    path = tmp_path / "letter.txt"
    path.write_text("Dear customer, your bus is cold.\n" * 100, encoding="utf-8")
    before = path.read_bytes()
    outcome = process("serve", "--port", "0", "--database", path)
    assert (outcome.status, outcome.out) == (2, "")
    assert f"{path} is no database" in outcome.one_line
    assert path.read_bytes() == before


@pytest.mark.parametrize("database", [".", "no/such/folder/log.sqlite"])
def test_a_database_that_cannot_be_opened_is_named(process: Run, tmp_path: Path, database: str) -> None:
    outcome = process("serve", "--port", "0", "--database", tmp_path / database)
    assert (outcome.status, outcome.out) == (2, "")
    assert outcome.one_line.startswith(f"{tmp_path / database}: ")


@pytest.mark.parametrize("host", ["0.0.0.0", "::"])  # noqa: S104 - it is to be refused
def test_a_network_is_let_in_with_a_token_only(run: Run, tmp_path: Path, host: str) -> None:
    outcome = run("serve", "--host", host, "--port", "0", "--database", tmp_path / "log.sqlite")
    assert (outcome.status, outcome.out) == (2, "")
    assert outcome.one_line == f"{host} is open to the network: give a token for writes, or listen on 127.0.0.1"
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("speed", ["0", "-1", "nan"])
def test_a_clock_that_stands_still_is_refused(run: Run, tmp_path: Path, speed: str) -> None:
    outcome = run("serve", "--port", "0", "--database", tmp_path / "log.sqlite", "--clock-speed", speed)
    assert (outcome.status, outcome.out) == (2, "")
    assert "the clock's speed is" in outcome.one_line


@pytest.mark.parametrize(
    ("arguments", "problem"),
    [
        (
            ("--webhook", "https://shop.example/hook"),
            "a webhook's secret is whsec_ and 24 to 64 random bytes in base64",
        ),
        (("--webhook", "shop.example"), "'shop.example' is no address; give one such as https://host:port"),
        (("--mqtt", "http://127.0.0.1"), "'http://127.0.0.1' is no address; give one such as mqtt://host:port"),
        (("--mqtt", "mqtt://127.0.0.1", "--mqtt-prefix", "a/#"), "'a/#' cannot begin a topic"),
    ],
)
def test_an_outlet_that_cannot_work_is_named(
    run: Run, tmp_path: Path, arguments: tuple[str, ...], problem: str
) -> None:
    outcome = run("serve", "--port", "0", "--database", tmp_path / "log.sqlite", *arguments)
    assert (outcome.status, outcome.out) == (2, "")
    assert outcome.one_line.startswith(problem)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_it_says_its_address_answers_and_stops_cleanly(tmp_path: Path, number: signal.Signals) -> None:
    command = [sys.executable, "-m", "fillmark", "serve", "--port", "0", "--database", str(tmp_path / "log.sqlite")]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as service:
        try:
            assert service.stdout is not None
            said = re.fullmatch(
                r"Fillmark serves (http://127\.0\.0\.1:\d+) \(Ctrl-C stops\)\n", service.stdout.readline()
            )
            assert said is not None
            health = httpx.get(f"{said[1]}/health", trust_env=False, timeout=30.0)
            assert health.json()["status"] == "ok"
            service.send_signal(number)
            out, err = service.communicate(timeout=15)
        finally:
            service.kill()
    assert "Traceback" not in out + err
    expected = {signal.SIGINT: 130, signal.SIGTERM: -signal.SIGTERM}  # as a shell reports either end
    assert service.returncode == expected[number]
    with pytest.raises(httpx.ConnectError):
        httpx.get(f"{said[1]}/health", trust_env=False)
