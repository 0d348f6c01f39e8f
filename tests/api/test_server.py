"""The server's address."""

from __future__ import annotations

import asyncio
import ssl
import statistics
import time
from pathlib import Path
from typing import TYPE_CHECKING

import httpx
import pytest
import trustme
from zeroconf import IPVersion
from zeroconf.asyncio import AsyncServiceInfo, AsyncZeroconf

from fillmark.api.server import ServeError, make_server
from fillmark.api.settings import Settings
from fillmark.outlets.announce import TYPES, machine_name
from fillmark.wire import extras

if TYPE_CHECKING:
    from tests.api.conftest import Serve

START_S = 1_800_000_000.0
OPEN = {
    "circuit": {"refrigerant": "R-134a", "charge_min": "480 g", "charge_max": "520 g"},
    "scale": {"resolution": "1 g"},
}


def test_a_network_is_not_let_in_without_a_token() -> None:
    with pytest.raises(ServeError, match="give a token"):
        make_server(Settings(), "0.0.0.0")  # noqa: S104 - refused
    _, listening = make_server(Settings.model_validate({"token": "x"}), "0.0.0.0")  # noqa: S104 - with a token
    listening.close()


async def test_with_a_certificate_it_is_reached_by_https_and_its_own_page_may_write(tmp_path: Path) -> None:
    authority = trustme.CA()
    chain = tmp_path / "chain.pem"
    authority.issue_cert("127.0.0.1").private_key_and_cert_chain_pem.write_to_path(chain)
    trusting = ssl.create_default_context()
    authority.configure_trust(trusting)
    told: asyncio.Future[str] = asyncio.get_running_loop().create_future()
    server, listening = make_server(Settings(certificate=chain, warm_up=False), ready=told.set_result)
    running = asyncio.create_task(server.serve([listening]))
    async with asyncio.timeout(30.0), httpx.AsyncClient(verify=trusting, trust_env=False) as http:
        url = await told
        assert url.startswith("https://127.0.0.1:")
        assert (await http.get(f"{url}/health")).status_code == 200
        assert "<title>Fillmark</title>" in (await http.get(url)).text
        opened = await http.post(f"{url}/v1/jobs?bay=bay-1", json=OPEN, headers={"Origin": url})
        assert opened.status_code == 201
        foreign = await http.post(f"{url}/v1/jobs?bay=bay-2", json=OPEN, headers={"Origin": "http://127.0.0.1"})
        assert foreign.status_code == 403
    server.should_exit = True
    await running


def test_a_certificate_that_is_none_is_named_at_start(tmp_path: Path) -> None:
    nothing = tmp_path / "nothing.pem"
    with pytest.raises(ServeError, match=r"nothing\.pem"):
        make_server(Settings(certificate=nothing))
    nothing.write_text("no certificate")
    with pytest.raises(ServeError, match="no certificate chain and key in PEM"):
        make_server(Settings(certificate=nothing))
    with pytest.raises(ServeError, match="a key without its certificate"):
        make_server(Settings(certificate_key=nothing))


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
