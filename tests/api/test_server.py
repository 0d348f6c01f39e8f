"""The server's address."""

from __future__ import annotations

import statistics
import time
from typing import TYPE_CHECKING

import pytest

from fillmark.api.server import ServeError, make_server
from fillmark.api.settings import Settings

if TYPE_CHECKING:
    from tests.api.conftest import Serve

START_S = 1_800_000_000.0


def test_a_network_is_not_let_in_without_a_token() -> None:
    with pytest.raises(ServeError, match="give a token"):
        make_server(Settings(), "0.0.0.0")  # noqa: S104 - refused
    _, listening = make_server(Settings.model_validate({"token": "x"}), "0.0.0.0")  # noqa: S104 - with a token
    listening.close()


def test_a_port_that_is_taken_is_named() -> None:
    _, listening = make_server(Settings())
    port = listening.getsockname()[1]
    with pytest.raises(ServeError, match=f"127.0.0.1:{port} cannot be listened on"):
        make_server(Settings(), port=port)
    listening.close()


async def test_an_answer_does_not_wait_for_a_delayed_acknowledgement(serve: Serve) -> None:
    # RFC 1122 section 4.2.3.2 lets a receiver hold an acknowledgement back; common systems do for 40 ms.
    async with serve() as desk:
        times = []
        for n in range(20):
            began = time.perf_counter()
            await desk.mass(1.0, START_S - 1e6 + n)
            times.append(time.perf_counter() - began)
    assert statistics.median(times) < 0.03


async def test_answers_are_dated_by_the_services_clock(serve: Serve) -> None:
    async with serve() as desk:
        answer = await desk.http.get("/health")
        assert len(answer.headers.get_list("date")) == 1
