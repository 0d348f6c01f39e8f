"""A scale on USB that speaks HID, usage page 0x8D (weighing devices), through the package hidapi.

The report descriptor of the scale itself says where mass, unit, scaling and status lie; nothing about a make is known
here. On Linux the user needs access to the device's `hidraw` node.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Mapping
from contextlib import suppress
from types import ModuleType
from typing import Any

from fillmark.wire import extras
from fillmark.wire.clock import Clock
from fillmark_agent.device import DeviceBrokenError, DeviceInfo, DeviceNotFoundError, LinkLostError, Pack
from fillmark_agent.drivers.blocking import PortReader
from fillmark_agent.scales.hid_layout import LayoutError
from fillmark_agent.scales.hid_weighing import PAGE, HidScale, hid_scale
from fillmark_agent.scales.indication import ScaleEdge
from fillmark_agent.scales.tables import HidScaleTable

_WAIT_MS = 200
_LONGEST_READ = 4096


class HidPort:
    """An open HID device as a `BlockingPort`. Only the thread that reads it may touch it."""

    def __init__(self, device: Any) -> None:  # noqa: ANN401 - hidapi has no types
        self._device = device

    def read(self) -> bytes:
        """One report, or nothing within a fifth of a second."""
        try:
            return bytes(self._device.read(_LONGEST_READ, _WAIT_MS))
        except ValueError as error:  # what hidapi says of a device that is closed
            raise OSError(str(error)) from error

    def close(self) -> None:
        """Let it go."""
        self._device.close()


class HidScaleDevice:
    """One scale, found again after it was unplugged."""

    def __init__(self, table: HidScaleTable, clock: Clock, *, hid: ModuleType | None = None) -> None:
        """`hid` stands in for the module of hidapi.

        Raises:
            MissingExtraError: hidapi is not installed.
        """
        self._table = table
        self._clock = clock
        self._hid: Any = hid or extras.module("hid")
        if not hasattr(self._hid, "device"):
            raise extras.MissingExtraError(
                "the module hid is that of another package; uninstall it, then: pip install 'fillmark[hid]'"
            )
        self._edge = ScaleEdge(table.mass, table.bay)
        self._path: bytes | None = None
        self._scale: HidScale | None = None
        self._reader: PortReader | None = None
        self.info = DeviceInfo(table.name, self._edge.channels, table.interval_s)

    async def find(self) -> None:
        """Look for the scale on USB.

        Raises:
            DeviceNotFoundError: there is none, or there are several that fit.
        """
        rows = [row for row in await asyncio.to_thread(self._hid.enumerate) if self._fits(row)]
        found = {bytes(row["path"]): row for row in rows}
        if not found:
            raise DeviceNotFoundError("no scale on USB with usage page 0x8D; plug it in and switch it on")
        if len(found) > 1:
            raise DeviceNotFoundError(f"{len(found)} scales on USB; say which: {_serials(found.values())}")
        self._path = next(iter(found))

    async def connect(self) -> None:
        """Open it and read its report descriptor.

        Raises:
            DeviceNotFoundError: it cannot be opened.
            DeviceBrokenError: its descriptor does not say where the mass is.
        """
        if self._path is None:
            raise DeviceNotFoundError("find the scale first")
        await self.disconnect()
        device, descriptor = await asyncio.to_thread(self._opened, self._path)
        try:
            self._scale = hid_scale(descriptor)
        except LayoutError as error:
            device.close()
            raise DeviceBrokenError(f"the scale's report descriptor cannot be used: {error}") from error
        self._reader = PortReader(HidPort(device), self._clock, self._table.name)

    async def samples(self) -> AsyncIterator[Pack]:
        """Masses, stability and troubles as the scale reports them.

        Raises:
            LinkLostError: the scale is gone.
        """
        if self._reader is None or self._scale is None:
            raise LinkLostError("the scale is not connected")
        async for time_s, report in self._reader.arrivals():
            seen = self._scale.decode(report)
            yield () if seen is None else self._edge.take(seen, time_s)

    async def disconnect(self) -> None:
        """Let the scale go."""
        reader, self._reader = self._reader, None
        if reader is not None:
            await reader.stop()

    def _opened(self, path: bytes) -> tuple[Any, bytes]:
        device = self._hid.device()
        try:
            device.open_path(path)
            return device, bytes(device.get_report_descriptor())
        except (OSError, ValueError) as error:
            with suppress(OSError, ValueError):
                device.close()
            raise DeviceNotFoundError(
                f"the scale cannot be opened ({error}); on Linux give the user access to its hidraw node"
            ) from error

    def _fits(self, row: Mapping[str, Any]) -> bool:
        table = self._table
        return (
            row.get("usage_page") == PAGE
            and table.vendor_id in {None, row.get("vendor_id")}
            and table.product_id in {None, row.get("product_id")}
            and table.serial in {None, row.get("serial_number")}
        )


def _serials(rows: Any) -> str:  # noqa: ANN401 - rows of hidapi, which has no types
    return ", ".join(
        f"vendor_id = 0x{row['vendor_id']:04x}, product_id = 0x{row['product_id']:04x}, serial = "
        f'"{row.get("serial_number") or ""}"'
        for row in rows
    )
