"""Stand-ins for hardware that speak real bytes: a HID device behind the functions of hidapi, a PTY, a TCP server."""

from __future__ import annotations

import asyncio
import os
import queue
import socket
import threading
import tty
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from dataclasses import dataclass, field
from types import ModuleType
from typing import Any

import pytest

from fillmark.wire.clock import Clock
from fillmark.wire.senml import Record
from fillmark_agent.device import Device

DESCRIPTOR = bytes.fromhex(
    "058d0901a10185030932a102"  # weighing device, report 3
    "0970a1021971297815012508750895018100c0"  # status
    "0950a1021951295c1501250c750895018100c0"  # unit
    "09411581257f750895018102"  # scaling
    "0940150027ffff0000751095018102"  # weight
    "c0c0"
)
PATIENCE_S = 10.0


@dataclass
class FakeScale:
    """What is plugged in: reports that will be read, then silence, or the plug pulled."""

    path: bytes = b"/dev/hidraw3"
    usage_page: int = 0x8D
    serial: str = "A1"
    descriptor: bytes = DESCRIPTOR
    reports: queue.Queue[bytes | None] = field(default_factory=queue.Queue)
    plugged: bool = True
    opened: int = 0
    readers: set[int] = field(default_factory=set)

    def row(self) -> dict[str, Any]:
        return {
            "path": self.path, "usage_page": self.usage_page, "vendor_id": 0x1209, "product_id": 0x0001,
            "serial_number": self.serial,
        }  # fmt: skip

    def pull(self) -> None:
        self.plugged = False
        self.reports.put(None)


class FakeHid(ModuleType):
    """The functions of hidapi that are used, over fake scales."""

    def __init__(self) -> None:
        super().__init__("hid")
        self.scales: list[FakeScale] = []

    def enumerate(self) -> list[dict[str, Any]]:
        return [scale.row() for scale in self.scales if scale.plugged]

    def device(self) -> FakeHandle:
        return FakeHandle(self.scales)


class FakeHandle:
    """hidapi's `device`: opening, reading and closing as its documentation says."""

    def __init__(self, scales: list[FakeScale]) -> None:
        self._scales = scales
        self._scale: FakeScale | None = None

    def open_path(self, path: bytes) -> None:
        found = [scale for scale in self._scales if scale.path == path and scale.plugged]
        if not found or found[0].opened:
            raise OSError("open failed")
        self._scale = found[0]
        self._scale.opened += 1

    def get_report_descriptor(self) -> list[int]:
        assert self._scale is not None
        return list(self._scale.descriptor)

    def read(self, max_length: int, timeout_ms: int) -> list[int]:
        if self._scale is None:
            raise ValueError("not open")
        self._scale.readers.add(threading.get_ident())
        try:
            report = self._scale.reports.get(timeout=timeout_ms / 1000)
        except queue.Empty:
            return []
        if report is None:
            raise OSError("read error")
        return list(report[:max_length])

    def close(self) -> None:
        scale, self._scale = self._scale, None
        if scale is not None:
            scale.opened -= 1


@pytest.fixture
def hid() -> FakeHid:
    return FakeHid()


@pytest.fixture
def scale(hid: FakeHid) -> FakeScale:
    made = FakeScale()
    hid.scales.append(made)
    return made


@pytest.fixture
def clock() -> Clock:
    return Clock()


class Terminal:
    """The scale's end of a serial line: a pseudo terminal whose other end is a device file."""

    def __init__(self) -> None:
        self.end, other = os.openpty()
        tty.setraw(self.end)
        tty.setraw(other)
        self.name = os.ttyname(other)
        self._other = other

    def write(self, data: bytes) -> None:
        os.write(self.end, data)

    def read(self) -> bytes:
        return os.read(self.end, 1000)

    def pull(self) -> None:
        for descriptor in (self._other, self.end):
            os.close(descriptor)
        self._other = self.end = -1

    def close(self) -> None:
        if self.end >= 0:
            self.pull()


@pytest.fixture
def terminal() -> Iterator[Terminal]:
    made = Terminal()
    yield made
    made.close()


class DeviceServer:
    """A TCP port behind which a scale writes lines."""

    def __init__(self) -> None:
        self._listening = socket.create_server(("127.0.0.1", 0))
        self._listening.settimeout(PATIENCE_S)
        self.port: int = self._listening.getsockname()[1]
        self.connection: socket.socket | None = None

    @property
    def name(self) -> str:
        return f"socket://127.0.0.1:{self.port}"

    def accept(self) -> None:
        self.connection, _ = self._listening.accept()
        self.connection.settimeout(PATIENCE_S)

    def write(self, data: bytes) -> None:
        if self.connection is None:
            self.accept()
        assert self.connection is not None
        self.connection.sendall(data)

    def read(self) -> bytes:
        if self.connection is None:
            self.accept()
        assert self.connection is not None
        return self.connection.recv(1000)

    def pull(self) -> None:
        if self.connection is None:
            self.accept()
        assert self.connection is not None
        self.connection.close()
        self._listening.close()

    def close(self) -> None:
        if self.connection is not None:
            self.connection.close()
        self._listening.close()


@pytest.fixture
def server() -> Iterator[DeviceServer]:
    made = DeviceServer()
    yield made
    made.close()


@pytest.fixture(params=["terminal", "server"])
def far_end(request: pytest.FixtureRequest) -> Terminal | DeviceServer:
    """The scale behind a serial port, and behind a TCP port."""
    made: Terminal | DeviceServer = request.getfixturevalue(request.param)
    return made


Collect = Callable[[Device, int], Awaitable[list[Record]]]


@pytest.fixture
async def collect() -> AsyncIterator[Collect]:
    """Finds and connects a device and takes records from it until there are `count`. Lets all devices go at the end."""
    used: list[Device] = []

    async def take(device: Device, count: int) -> list[Record]:
        if device not in used:
            used.append(device)
            await device.find()
            await device.connect()
        found: list[Record] = []
        async with asyncio.timeout(PATIENCE_S):
            async for pack in device.samples():
                found += pack
                if len(found) >= count:
                    break
        return found

    yield take
    for device in used:
        await device.disconnect()
