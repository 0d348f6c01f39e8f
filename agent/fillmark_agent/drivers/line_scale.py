"""A scale that writes lines: on a serial port, or behind a TCP port (a device server), through the package pyserial.

How a line reads is declared (`scales.line_pattern`). A scale that speaks only when asked gets its question again and
again.
"""

from __future__ import annotations

import asyncio
import time
from collections.abc import AsyncIterator
from types import ModuleType
from typing import Any

from fillmark.wire import extras
from fillmark.wire.clock import Clock
from fillmark_agent.device import DeviceInfo, DeviceNotFoundError, LinkLostError, Pack
from fillmark_agent.drivers.blocking import PortReader
from fillmark_agent.edge.outcome import Fault
from fillmark_agent.scales.indication import Indication, ScaleEdge
from fillmark_agent.scales.lines import LONGEST, LineCutter
from fillmark_agent.scales.tables import LineScaleTable

_WAIT_S = 0.1
_WRITE_S = 1.0


class SerialPort:
    """An open serial port or socket as a `BlockingPort` that asks its question in time."""

    def __init__(self, port: Any, poll: bytes, poll_s: float) -> None:  # noqa: ANN401 - pyserial made it of an address
        """`poll` is sent every `poll_s` real seconds to ask for a mass; empty for a scale that sends by itself."""
        self._port = port
        self._poll = poll
        self._poll_s = poll_s
        self._asked_s = -poll_s

    def read(self) -> bytes:
        """What came until a line ends or a tenth of a second goes by without a byte."""
        if self._poll and time.monotonic() - self._asked_s >= self._poll_s:
            self._asked_s = time.monotonic()
            self._port.write(self._poll)
        try:
            data = bytearray()
            while len(data) <= LONGEST and not data.endswith((b"\r", b"\n")) and (byte := self._port.read(1)):
                data += byte
            return bytes(data)
        except TypeError as error:  # what pyserial says of a port that is closed under it
            raise OSError("the port was closed") from error

    def close(self) -> None:
        """Let it go."""
        self._port.close()


class LineScaleDevice:
    """One scale on a port."""

    def __init__(self, table: LineScaleTable, clock: Clock, *, serial: ModuleType | None = None) -> None:
        """`serial` stands in for the module of pyserial.

        Raises:
            MissingExtraError: pyserial is not installed.
        """
        self._table = table
        self._lines = table.lines
        self._clock = clock
        self._serial: Any = serial or extras.module("serial")
        self._edge = ScaleEdge(table.mass, table.bay)
        self._reader: PortReader | None = None
        self.info = DeviceInfo(table.name, self._edge.channels, table.interval_s or None)

    async def find(self) -> None:
        """Nothing to look for: the port is named, and `connect` says whether it is there."""

    async def connect(self) -> None:
        """Open the port.

        Raises:
            DeviceNotFoundError: it is not there, or somebody else has it.
        """
        await self.disconnect()
        port = await asyncio.to_thread(self._opened)
        self._reader = PortReader(port, self._clock, self._table.name)

    async def samples(self) -> AsyncIterator[Pack]:
        """Masses, stability and troubles as the scale writes them.

        Raises:
            LinkLostError: the port is gone.
        """
        if self._reader is None:
            raise LinkLostError("the scale is not connected")
        cutter = LineCutter()
        async for time_s, data in self._reader.arrivals():
            for line in cutter.feed(data):
                seen = Indication(line) if isinstance(line, Fault) else self._lines.decode(line)
                yield () if seen is None else self._edge.take(seen, time_s)

    async def disconnect(self) -> None:
        """Let the port go."""
        reader, self._reader = self._reader, None
        if reader is not None:
            await reader.stop()

    def _opened(self) -> SerialPort:
        table = self._table
        try:
            port = self._serial.serial_for_url(
                table.port,
                baudrate=table.baud,
                bytesize=table.data_bits,
                parity=table.parity[0].upper(),
                stopbits=table.stop_bits,
                timeout=_WAIT_S,
                write_timeout=_WRITE_S,
                **({} if "://" in table.port else {"exclusive": True}),
            )
        except (OSError, ValueError) as error:
            raise DeviceNotFoundError(f"{table.port} cannot be opened: {error}") from error
        return SerialPort(port, table.poll.encode(), table.poll_s)
