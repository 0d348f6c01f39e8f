"""The server's address."""

from __future__ import annotations

import asyncio
import statistics
import time
from typing import TYPE_CHECKING

import httpx
import pytest
from zeroconf import IPVersion
from zeroconf.asyncio import AsyncServiceInfo, AsyncZeroconf

from fillmark.api.server import ServeError, make_server
from fillmark.api.settings import Settings
from fillmark.outlets.announce import TYPES, machine_name
from fillmark.wire import extras

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


async def test_a_service_is_announced_where_that_is_asked_for_and_answers_under_its_name() -> None:
    ready: asyncio.Future[str] = asyncio.get_running_loop().create_future()
    server, listening = make_server(Settings(warm_up=False), announce=True, ready=ready.set_result)
    running = asyncio.create_task(server.serve([listening]))
    url = httpx.URL(await ready)
    async with AsyncZeroconf(interfaces=["127.0.0.1"], ip_version=IPVersion.V4Only) as zeroconf:
        info = AsyncServiceInfo(TYPES[0], f"Fillmark on {machine_name()}.{TYPES[0]}")
        assert await info.async_request(zeroconf.zeroconf, 20_000)
    assert info.port == url.port
    async with httpx.AsyncClient(base_url=url) as http:
        named = await http.get("/health", headers={"host": f"{machine_name()}.local:{url.port}"})
        other = await http.get("/health", headers={"host": "elsewhere.local"})
    assert (named.status_code, other.json()["type"]) == (200, "/problems/unknown-host")
    server.should_exit = True
    await asyncio.wait_for(running, 20.0)


@pytest.mark.parametrize(
    ("host", "announce", "expected"),
    [("127.0.0.1", None, False), ("127.0.0.1", True, True), ("0.0.0.0", None, True), ("0.0.0.0", False, False)],  # noqa: S104
)
def test_it_is_announced_beyond_this_machine_or_where_asked_for(
    host: str, announce: bool | None, expected: bool
) -> None:
    server, listening = make_server(Settings.model_validate({"token": "x"}), host, announce=announce)
    listening.close()
    assert (server._announcer is not None) is expected


def test_a_missing_package_matters_only_to_whoever_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(extras, "PACKAGES", {"announce": ("fillmark_no_such_module", "zeroconf")})
    with pytest.raises(ServeError, match=r"pip install 'fillmark\[announce\]'"):
        make_server(Settings(), announce=True)
    server, listening = make_server(Settings.model_validate({"token": "x"}), "0.0.0.0")  # noqa: S104 - with a token
    listening.close()
    assert server._announcer is None
