"""Announces the service on the local network, by multicast DNS and DNS-SD (RFC 6762, RFC 6763), through zeroconf.

Two service types: `_fillmark._tcp` for whoever wants to talk to Fillmark, `_http._tcp` for a browser that lists pages.
The instance is named after the machine, so that two workshops' machines can be told apart.
"""

from __future__ import annotations

import asyncio
import ipaddress
import logging
import socket
from dataclasses import dataclass
from typing import Any

from fillmark.wire import extras

_LOG = logging.getLogger(__name__)
FILLMARK, HTTP, HTTPS = "_fillmark._tcp.local.", "_http._tcp.local.", "_https._tcp.local."
TYPES = (FILLMARK, HTTP)
"""What is announced of a service without a certificate."""
STOP_S = 3.0


@dataclass(frozen=True, slots=True)
class Place:
    """Where the service listens.

    Attributes:
        host: the address it was told to listen on; an unspecified one stands for all of this machine.
        port: its TCP port.
        version: of the service.
        secure: whether it is reached by https.
    """

    host: str
    port: int
    version: str
    secure: bool = False


def machine_name() -> str:
    """The first label of this machine's name, as it stands before `.local`."""
    label = "".join(c if c.isascii() and (c.isalnum() or c == "-") else "-" for c in socket.gethostname().split(".")[0])
    return label.strip("-")[:50] or "fillmark"


class Announcer:
    """The announcement, from start to stop."""

    def __init__(self, place: Place) -> None:
        """Prepare; nothing is said yet.

        Raises:
            MissingExtraError: zeroconf is not installed.
        """
        self._zeroconf: Any = extras.module("announce")
        self._place = place
        self._running: Any = None

    async def start(self) -> None:
        """Say it. A network that does not let it be said is noted in the log and costs nothing else."""
        from zeroconf import IPVersion, NonUniqueNameException, ServiceInfo  # noqa: PLC0415 - an extra

        addresses = await asyncio.to_thread(_addresses, self._place.host)
        if not addresses:
            _LOG.warning("there is no address to announce")
            return
        kinds = {ipaddress.ip_address(each).version for each in addresses}
        version = IPVersion.All if len(kinds) > 1 else IPVersion.V4Only if kinds == {4} else IPVersion.V6Only
        try:
            self._running = self._zeroconf.AsyncZeroconf(interfaces=addresses, ip_version=version)
            for kind in (FILLMARK, HTTPS if self._place.secure else HTTP):
                info = ServiceInfo(
                    kind,
                    f"Fillmark on {machine_name()}.{kind}",
                    port=self._place.port,
                    parsed_addresses=addresses,
                    properties={"path": "/", "api": "/v1", "version": self._place.version},
                    server=f"{machine_name()}.local.",
                )
                await self._running.async_register_service(info, allow_name_change=True)
        except (OSError, NonUniqueNameException) as error:
            _LOG.warning("the service cannot be announced: %s", error)

    async def stop(self) -> None:
        """Take it back: whoever has heard of the service is told that it goes."""
        running, self._running = self._running, None
        if running is not None:
            try:
                async with asyncio.timeout(STOP_S):
                    await running.async_unregister_all_services()
                    await running.async_close()
            except (TimeoutError, OSError) as error:
                _LOG.warning("the announcement could not be taken back: %r", error)


def _addresses(host: str) -> list[str]:
    """The addresses behind `host`; for an unspecified one, those of this machine that others can reach."""
    import ifaddr  # noqa: PLC0415 - comes with zeroconf

    try:
        given = ipaddress.ip_address(socket.getaddrinfo(host, None)[0][4][0])
    except (OSError, ValueError):
        return []
    if not given.is_unspecified:
        return [str(given)]
    found = [ipaddress.ip_address(ip.ip) for card in ifaddr.get_adapters() for ip in card.ips if isinstance(ip.ip, str)]
    return [str(each) for each in found if not each.is_loopback and not each.is_link_local]
