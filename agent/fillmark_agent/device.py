"""What a device is to the agent. Real drivers and simulators implement the same protocol.

* The order of calls is find, connect, samples, disconnect; after a loss it begins again at find.
* `connect` renews every subscription: a radio link that comes back has forgotten them.
* `samples` raises `LinkLostError` when the link drops. It ends only when there is nothing left to come, which a real
  device never says of itself.
* `disconnect` may be called at any time, also twice, also after a loss.
* A driver stamps a sample when it arrives, so that a slow disk or a slow service never moves its time.
* A sample without a value is left out. A driver never sends a number in place of an unknown.
* An empty pack says only that the device was heard: the link is not silent, and there is nothing to note.
"""

from __future__ import annotations

from collections.abc import AsyncIterator, Awaitable, Callable
from dataclasses import dataclass
from typing import Protocol

from fillmark.wire.senml import Record

Pack = tuple[Record, ...]
Sleep = Callable[[float], Awaitable[object]]


class DeviceError(Exception):
    """Something is wrong with a device; the text says what."""


class DeviceNotFoundError(DeviceError):
    """The device does not answer or does not advertise now. It may later."""


class LinkLostError(DeviceError):
    """The link dropped or went silent. Find and connect again."""


class DeviceBrokenError(DeviceError):
    """Trying again cannot help: a person has to change something first."""


@dataclass(frozen=True, slots=True)
class DeviceInfo:
    """What is known about a device before its first sample.

    Attributes:
        name: what the log calls it.
        channels: full names of the channels that it feeds, as far as known.
        expected_interval_s: real seconds between samples, None when it has no rhythm; then silence is no fault.
        battery_percent: 0 to 100, None when unknown.
        rssi_dbm: how loudly a radio was last heard, None when unknown.
    """

    name: str
    channels: tuple[str, ...] = ()
    expected_interval_s: float | None = None
    battery_percent: float | None = None
    rssi_dbm: float | None = None


@dataclass(frozen=True, slots=True)
class Sample:
    """One value as a driver has it, not yet on the wire.

    Attributes:
        channel: full name, for example "bay-1/scale/mass".
        time_s: Unix seconds on the agent's clock.
        value: number in `unit`, flag, or text.
        unit: from the IANA SenML registry, None for flags and text.
    """

    channel: str
    time_s: float
    value: float | bool | str
    unit: str | None = None

    def record(self) -> Record:
        """The SenML record that carries this sample."""
        if isinstance(self.value, bool):
            return Record(self.channel, self.time_s, flag=self.value)
        if isinstance(self.value, str):
            return Record(self.channel, self.time_s, text=self.value)
        return Record(self.channel, self.time_s, unit=self.unit, value=float(self.value))


class Device(Protocol):
    """A device, a simulator or a recorded stream."""

    @property
    def info(self) -> DeviceInfo:
        """What is known now. Battery and channels may become known while connected."""
        ...

    async def find(self) -> None:
        """Look for the device, for a time that suits its medium.

        Raises:
            DeviceNotFoundError: it is not there now.
            DeviceBrokenError: it can never be found so.
        """
        ...

    async def connect(self) -> None:
        """Open the link and subscribe.

        Raises:
            DeviceNotFoundError: it went away since it was found.
            LinkLostError: the link dropped while it was being set up.
        """
        ...

    def samples(self) -> AsyncIterator[Pack]:
        """Samples as they arrive: one pack for what arrived together.

        Raises:
            LinkLostError: the link dropped.
            DeviceBrokenError: nothing can follow and the device is not at its end.
        """
        ...

    async def disconnect(self) -> None:
        """Let the link go and free what it held."""
        ...
