"""The announcement, heard by another responder of zeroconf on the same wire: the loopback of this machine."""

from __future__ import annotations

import asyncio
import importlib
import socket
from collections.abc import AsyncIterator
from typing import TYPE_CHECKING

import pytest
from zeroconf import IPVersion, ServiceStateChange, Zeroconf
from zeroconf.asyncio import AsyncServiceBrowser, AsyncServiceInfo, AsyncZeroconf

from fillmark.outlets import announce
from fillmark.outlets.announce import FILLMARK, HTTPS, TYPES, Announcer, Place, machine_name
from fillmark.wire import extras

if TYPE_CHECKING:
    from collections.abc import Callable

PATIENCE_S = 30.0


class Listener:
    """Hears which services come and go."""

    def __init__(self, zeroconf: AsyncZeroconf) -> None:
        self.zeroconf = zeroconf
        self.there: dict[str, str] = {}
        self._changed = asyncio.Event()
        self._browser = AsyncServiceBrowser(zeroconf.zeroconf, [*TYPES, HTTPS], handlers=[self._heard])

    def _heard(self, zeroconf: Zeroconf, service_type: str, name: str, state_change: ServiceStateChange) -> None:
        del zeroconf
        if state_change is ServiceStateChange.Removed:
            self.there.pop(name, None)
        else:
            self.there[name] = service_type
        self._changed.set()

    async def until(self, true: Callable[[], bool]) -> None:
        async with asyncio.timeout(PATIENCE_S):
            while not true():
                self._changed.clear()
                await self._changed.wait()

    async def close(self) -> None:
        await self._browser.async_cancel()
        await self.zeroconf.async_close()


@pytest.fixture
async def listener() -> AsyncIterator[Listener]:
    made = Listener(AsyncZeroconf(interfaces=["127.0.0.1"], ip_version=IPVersion.V4Only))
    yield made
    await made.close()


async def test_both_services_are_found_with_their_port_and_taken_back(listener: Listener) -> None:
    announcer = Announcer(Place("127.0.0.1", 8123, "0.1.0"))
    await announcer.start()
    await listener.until(lambda: set(listener.there.values()) == set(TYPES))
    for name, kind in dict(listener.there).items():
        info = AsyncServiceInfo(kind, name)
        assert await info.async_request(listener.zeroconf.zeroconf, 10_000)
        assert (info.port, info.parsed_addresses()) == (8123, ["127.0.0.1"])
        assert info.decoded_properties == {"path": "/", "api": "/v1", "version": "0.1.0"}
        assert info.server == f"{machine_name()}.local."
        assert name.startswith("Fillmark on ")
    await announcer.stop()
    await announcer.stop()
    await listener.until(lambda: not listener.there)


async def test_behind_a_certificate_it_is_announced_as_https(listener: Listener) -> None:
    announcer = Announcer(Place("127.0.0.1", 8123, "0.1.0", secure=True))
    await announcer.start()
    await listener.until(lambda: len(listener.there) == 2)
    assert set(listener.there.values()) == {FILLMARK, HTTPS}
    await announcer.stop()


def test_the_names_are_ones_that_dns_sd_allows() -> None:
    """RFC 6335 section 5.1: a service name has at most 15 letters, digits and hyphens, and begins with a letter."""
    for kind in (*TYPES, HTTPS):
        service, protocol, domain = kind.split(".")[:3]
        assert (protocol, domain) == ("_tcp", "local")
        assert service.startswith("_")
        name = service[1:]
        assert len(name) <= 15
        assert name.isalnum()


@pytest.mark.parametrize(
    ("given", "label"),
    [
        ("bench", "bench"),
        ("Bench.shop.example", "Bench"),
        ("büro_pc", "b-ro-pc"),
        ("___", "fillmark"),
        ("a" * 99, "a" * 50),
    ],
)
def test_the_machines_name_is_one_label(monkeypatch: pytest.MonkeyPatch, given: str, label: str) -> None:
    monkeypatch.setattr(socket, "gethostname", lambda: given)
    assert machine_name() == label


def test_an_unspecified_address_stands_for_those_that_others_can_reach() -> None:
    found = announce._addresses("0.0.0.0")  # noqa: S104 - nothing listens here
    assert not any(address.startswith(("127.", "169.254.", "fe80")) or address == "::1" for address in found)
    assert announce._addresses("192.0.2.7") == ["192.0.2.7"]


async def test_a_network_that_does_not_let_it_be_said_costs_nothing(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def refuse(**_: object) -> None:
        raise OSError("no multicast here")

    monkeypatch.setattr("zeroconf.asyncio.AsyncZeroconf", refuse)
    announcer = Announcer(Place("127.0.0.1", 8123, "0.1.0"))
    await announcer.start()
    await announcer.stop()
    assert "cannot be announced: no multicast here" in caplog.text


def test_without_the_package_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(extras, "PACKAGES", {"announce": ("fillmark_no_such_module", "zeroconf")})
    with pytest.raises(ImportError, match=r"pip install 'fillmark\[announce\]'"):
        Announcer(Place("127.0.0.1", 8123, "0.1.0"))


@pytest.mark.parametrize("extra", sorted(extras.PACKAGES))
def test_every_extra_names_a_module_that_exists(extra: str) -> None:
    name, _ = extras.PACKAGES[extra]
    assert extras.module(extra) is importlib.import_module(name)
