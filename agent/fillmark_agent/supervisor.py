"""Keeps one device connected for ever: find, connect, stream; on loss wait a little and begin again.

* The wait grows with every attempt and starts small again at the first sample, not at the connection: a link that
  connects and drops at once is not a working link.
* A link that is silent for too long is dropped and set up again: radios lose a peer without saying so.
* A driver that fails in a way it should not is treated like a loss, with its traceback in the log. One device never
  stops another.
"""

from __future__ import annotations

import asyncio
import enum
import logging
from collections.abc import AsyncGenerator, AsyncIterator
from contextlib import suppress
from dataclasses import dataclass, field

from fillmark_agent.backoff import Backoff
from fillmark_agent.cancellation import heed_cancellation
from fillmark_agent.device import Device, DeviceBrokenError, DeviceError, LinkLostError, Pack, Sleep
from fillmark_agent.intake import Intake

_LOG = logging.getLogger(__name__)


class LinkState(enum.Enum):
    """Where a device's link is."""

    SEARCHING = "searching"
    CONNECTING = "connecting"
    STREAMING = "streaming"
    WAITING = "waiting"
    ENDED = "ended"
    BROKEN = "broken"


@dataclass(frozen=True, slots=True)
class Patience:
    """When to give a link up.

    Attributes:
        silent_intervals: a link is dropped after this many expected intervals without a sample,
        silent_at_least_s: but not before so many real seconds.
        connect_s: longest time to find and connect, real seconds.
        disconnect_s: longest time to let go, real seconds.
    """

    silent_intervals: float = 10.0
    silent_at_least_s: float = 3.0
    connect_s: float = 60.0
    disconnect_s: float = 5.0


@dataclass(slots=True)
class LinkStatus:
    """What one device's link has done so far."""

    name: str
    state: LinkState = LinkState.WAITING
    records: int = 0
    losses: int = 0
    silences: int = 0
    faults: int = 0
    last_time_s: float | None = None
    battery_percent: float | None = None
    problem: str | None = None


@dataclass(slots=True)
class Supervisor:
    """One device and its link. `run` ends only when the stream has ended or can never come back."""

    device: Device
    intake: Intake
    patience: Patience = field(default_factory=Patience)
    backoff: Backoff = field(default_factory=Backoff)
    sleep: Sleep = asyncio.sleep
    status: LinkStatus = field(init=False)

    def __post_init__(self) -> None:
        """Begin with a status that knows the name."""
        self.status = LinkStatus(self.device.info.name)

    async def run(self) -> None:
        """Stream the device into the intake until it ends, breaks or the task is cancelled."""
        while True:
            try:
                await self._session()
            except DeviceBrokenError as error:
                self._note(LinkState.BROKEN, str(error))
                _LOG.error("%s: %s; given up", self.status.name, error)
                return
            except DeviceError as error:
                self._lost(str(error))
            except Exception as error:  # noqa: BLE001 - a driver's bug must not stop the other devices
                self.status.faults += 1
                _LOG.exception("%s: the driver failed", self.status.name)
                self._lost(f"the driver failed: {error!r}")
            else:
                self._note(LinkState.ENDED, None)
                _LOG.info("%s: the stream has ended, %d records", self.status.name, self.status.records)
                return
            heed_cancellation()
            await self.sleep(self.backoff.next_s())

    def _note(self, state: LinkState, problem: str | None) -> None:
        self.status.state = state
        self.status.problem = problem

    def _lost(self, problem: str) -> None:
        if self.status.state is LinkState.STREAMING:
            self.status.losses += 1
        if problem != self.status.problem:
            _LOG.warning("%s: %s; trying again", self.status.name, problem)
        self._note(LinkState.WAITING, problem)

    async def _session(self) -> None:
        try:
            await self._connect()
            heed_cancellation()
            await self._stream()
        finally:
            await self._disconnect()

    async def _connect(self) -> None:
        try:
            async with asyncio.timeout(self.patience.connect_s):
                self.status.state = LinkState.SEARCHING
                await self.device.find()
                self.status.state = LinkState.CONNECTING
                await self.device.connect()
        except TimeoutError as error:
            raise LinkLostError(f"not connected within {self.patience.connect_s:g} s") from error

    async def _stream(self) -> None:
        stream = self.device.samples()
        try:
            while (pack := await self._next(stream)) is not None:
                if self.status.state is not LinkState.STREAMING:
                    self._streaming()
                if pack:
                    await self.intake.put(pack)
                    self.status.records += len(pack)
                    self.status.last_time_s = pack[-1].time_s
        finally:
            if isinstance(stream, AsyncGenerator):
                await stream.aclose()

    def _streaming(self) -> None:
        info = self.device.info
        self._note(LinkState.STREAMING, None)
        self.status.battery_percent = info.battery_percent
        self.backoff.reset()
        _LOG.info("%s: streaming", self.status.name)

    async def _next(self, stream: AsyncIterator[Pack]) -> Pack | None:
        limit_s = self._silence_limit_s()
        try:
            async with asyncio.timeout(limit_s):
                return await anext(stream, None)
        except TimeoutError as error:
            self.status.silences += 1
            raise LinkLostError(f"silent for {limit_s or 0.0:.3g} s; the link is dropped") from error

    def _silence_limit_s(self) -> float | None:
        interval_s = self.device.info.expected_interval_s
        if interval_s is None:
            return None
        return max(self.patience.silent_intervals * interval_s, self.patience.silent_at_least_s)

    async def _disconnect(self) -> None:
        try:
            with suppress(DeviceError):
                async with asyncio.timeout(self.patience.disconnect_s):
                    await self.device.disconnect()
        except TimeoutError:
            _LOG.warning("%s: did not let go within %g s", self.status.name, self.patience.disconnect_s)
        except Exception:  # noqa: BLE001 - a driver's bug must not stop the other devices
            _LOG.exception("%s: the driver failed to let go", self.status.name)
