"""The one Bluetooth adapter that the devices of an agent share.

* One scanner for all: a second search from one program is refused by BlueZ.
* One attempt to connect at a time, for the same reason.
"""

from __future__ import annotations

import asyncio
import logging
import sys
from collections.abc import Awaitable, Callable
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Protocol

from bleak import BleakClient, BleakScanner
from bleak.backends.client import BaseBleakClient
from bleak.backends.device import BLEDevice
from bleak.backends.scanner import AdvertisementData, BaseBleakScanner
from bleak.exc import BleakError

_LOG = logging.getLogger(__name__)
RADIO_ERRORS = (BleakError, TimeoutError, OSError, EOFError, KeyError, AttributeError)
"""What bleak raises when something happens to the link or the system in the middle of an operation."""


def words(error: BaseException) -> str:
    """What an error says, or its name where it says nothing."""
    return str(error) or type(error).__name__


Listener = Callable[[BLEDevice, AdvertisementData], None]


class Care(Protocol):
    """What can be done about a device in the system's memory. Addresses as `scan` shows them."""

    async def forget(self, address: str) -> None:
        """Clear what the system remembers of the device's services."""
        ...

    async def release(self, address: str) -> None:
        """End links to it that another process left behind."""
        ...


class NoCare:
    """A system that needs none."""

    async def forget(self, address: str) -> None:
        """Nothing."""

    async def release(self, address: str) -> None:
        """Nothing."""


class BluezCare:
    """BlueZ keeps services and links beyond the life of the process that used them."""

    async def forget(self, address: str) -> None:
        """Remove the device with its cache of services."""
        import bleak_retry_connector  # noqa: PLC0415 - only when something is wrong

        _LOG.info("%s: clearing what BlueZ remembers of it", address)
        await bleak_retry_connector.clear_cache(address)

    async def release(self, address: str) -> None:
        """Disconnect it if BlueZ holds a link: while it does, the device does not advertise."""
        import bleak_retry_connector  # noqa: PLC0415 - only when something is wrong

        await bleak_retry_connector.close_stale_connections_by_address(address)


def _care() -> Care:
    return BluezCare() if sys.platform == "linux" else NoCare()


@dataclass(slots=True)
class Radio:
    """The adapter.

    Attributes:
        scanner: bleak's scanner to use, None for the system's.
        client: bleak's client to use, None for the system's.
        care: of the system's memory.
        turn: held while a device connects.
        begin: awaited once, before the first search.
    """

    scanner: type[BaseBleakScanner] | None = None
    client: type[BaseBleakClient] | None = None
    care: Care = field(default_factory=_care)
    turn: asyncio.Lock = field(default_factory=asyncio.Lock)
    begin: Callable[[], Awaitable[None]] | None = None
    _listeners: list[Listener] = field(default_factory=list)
    _scanning: BleakScanner | None = None
    _switch: asyncio.Lock = field(default_factory=asyncio.Lock)

    async def listen(self, listener: Listener) -> None:
        """Hear every advertisement from now on; the search begins with the first listener.

        Raises:
            BleakError: the adapter is missing, off or busy.
        """
        self._listeners.append(listener)
        try:
            async with self._switch:
                await self._start()
        except BaseException:
            self._listeners.remove(listener)
            raise

    async def leave(self, listener: Listener) -> None:
        """Hear no more; the search ends with the last listener. May be called again."""
        with suppress(ValueError):
            self._listeners.remove(listener)
        async with self._switch:
            if not self._listeners:
                await self._stop()

    async def renew(self) -> None:
        """Begin the search anew, for a system that reports only what has changed since it began."""
        async with self._switch:
            if self._scanning is not None:
                await self._stop()
                await self._start()

    def connection(self, device: BLEDevice, gone: Callable[[], None], timeout_s: float) -> BleakClient:
        """A client for the device, not yet connected. `gone` is called when the link ends."""
        return BleakClient(device, lambda _: gone(), timeout=timeout_s, backend=self.client)

    async def _start(self) -> None:
        if self.begin is not None:
            begin, self.begin = self.begin, None
            await begin()
        if self._scanning is None and self._listeners:
            scanner = BleakScanner(self._heard, backend=self.scanner)
            await scanner.start()
            self._scanning = scanner

    async def _stop(self) -> None:
        scanner, self._scanning = self._scanning, None
        if scanner is not None:
            try:
                await scanner.stop()
            except RADIO_ERRORS as error:
                _LOG.warning("the search for Bluetooth devices did not stop cleanly: %s", error)

    def _heard(self, device: BLEDevice, advertisement: AdvertisementData) -> None:
        for listener in tuple(self._listeners):
            listener(device, advertisement)
