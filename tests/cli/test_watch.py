"""`fillmark watch --once`: the present state of a real service, or one line that says what to do."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

import httpx
import pytest

Run = Callable[..., Any]
OPEN = {
    "circuit": {"refrigerant": "R-134a", "charge_min": "480 g", "charge_max": "520 g", "volume": "2.4 L"},
    "scale": {"resolution": "1 g", "class": "III"},
}


class Stranger(BaseHTTPRequestHandler):
    """Some other web server: it says the same page, or the same JSON, to everything."""

    answers: tuple[int, bytes] = (200, b"<html>hello</html>")

    def do_GET(self) -> None:
        status, body = self.answers
        self.send_response(status)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_: object) -> None:
        """Say nothing."""


@pytest.fixture
def stranger() -> Iterator[str]:
    with ThreadingHTTPServer(("127.0.0.1", 0), Stranger) as server:
        thread = threading.Thread(target=server.serve_forever, daemon=True)
        thread.start()
        yield f"http://127.0.0.1:{server.server_port}"
        server.shutdown()
        thread.join(5)


def test_without_a_service_it_says_how_to_start_one(run: Run, silent_port: int) -> None:
    nobody = f"http://127.0.0.1:{silent_port}"
    outcome = run("watch", "--once", "--service", nobody)
    assert (outcome.status, outcome.out) == (3, "")
    assert outcome.one_line.startswith(f"no service at {nobody} (")
    assert outcome.one_line.endswith("; start one with: fillmark serve")


def test_a_proxy_for_the_web_is_not_asked(
    run: Run, stranger: str, silent_port: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HTTP_PROXY", stranger)
    monkeypatch.setenv("http_proxy", stranger)
    outcome = run("watch", "--once", "--service", f"http://127.0.0.1:{silent_port}")
    assert outcome.status == 3
    assert outcome.one_line.startswith(f"no service at http://127.0.0.1:{silent_port} (")


@pytest.mark.parametrize("address", ["shop", "ftp://shop", "http://[::", "http://127.0.0.1:99999999"])
def test_what_is_no_address_is_named(run: Run, address: str) -> None:
    outcome = run("watch", "--once", "--service", address)
    assert outcome.out == ""
    assert outcome.status in {2, 3}
    assert address in outcome.one_line


@pytest.mark.parametrize(
    "answers",
    [(200, b"<html>hello</html>"), (200, b"{}"), (200, b"[]"), (404, b"no"), (200, b'{"jobs": [{"job": 1}]}')],
)
def test_another_server_is_not_taken_for_ours(
    run: Run, stranger: str, answers: tuple[int, bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Stranger, "answers", answers)
    outcome = run("watch", "--once", "--service", stranger)
    assert (outcome.status, outcome.out) == (3, "")
    assert stranger in outcome.one_line
    assert outcome.one_line.endswith("give the address of a Fillmark service with --service")


def test_the_job_of_a_service_is_shown(run: Run, service: str) -> None:
    assert run("watch", "--once", "--service", service).out == "no job is open\n"
    job = httpx.post(f"{service}/v1/jobs?bay=bay-1", json=OPEN, trust_env=False).json()["job"]
    for arguments in ((), ("--bay", "bay-1"), ("--job", job)):
        outcome = run("watch", "--once", "--service", service, *arguments)
        assert (outcome.status, outcome.err) == (0, "")
        assert f"{job} · R-134a · no step" in outcome.out
        assert "window 480 to 520 g, aim 500 g" in outcome.out
        assert "no reading yet" in outcome.out
    assert run("watch", "--once", "--service", service, "--bay", "bay-9").out == "no job is open\n"
    outcome = run("watch", "--once", "--service", service, "--job", "bay-9.1")
    assert (outcome.status, outcome.out) == (2, "")
    assert outcome.one_line == "the service answered 404 for job 'bay-9.1'; leave --job out for the open one"
