"""A recorded stream as a device: NAME.senml.jsonl, one SenML pack a line, lines in order of arrival.

* A line arrives at the latest time seen so far in the file, so a backlog replayed late in the recording comes late
  here too.
* At speed N the line is emitted when the agent's clock has gone on by (arrival - first arrival) / N.
* Restamped times keep their distance to the arrival: t' = due - (arrival - t) / N, where `due` is the clock's time at
  which the line is emitted. The planned time is taken, not the late one of a busy machine. That makes
  t' = start + (t - first arrival) / N, so a reading that the recording repeats stays the same reading, and two that
  differ stay two: a reading is identified by channel and time.
* As fast as possible there is no pace to restamp by, so the original times are kept.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from fillmark.wire.clock import Clock
from fillmark.wire.senml import Record, SenmlError, decode
from fillmark_agent.device import DeviceBrokenError, DeviceInfo, Pack, Sleep

_BREATH_EVERY = 64


@dataclass(frozen=True, slots=True)
class Recording:
    """Which stream, and how it is played.

    Attributes:
        path: the file.
        name: what the log calls the device.
        speed: times the pace of the recording on the agent's clock; None for as fast as possible.
        restamp: give records the time of their emission instead of their own.
        bay: play into this bay instead of the recorded one.
    """

    path: Path
    name: str
    speed: float | None = 1.0
    restamp: bool = True
    bay: str | None = None

    def __post_init__(self) -> None:
        """Refuse what has no meaning.

        Raises:
            ValueError: speed not above zero, or restamping without a pace.
        """
        if self.speed is not None and not self.speed > 0.0:
            raise ValueError(f"speed is {self.speed:g}; give a number above 0, or None for no pace")
        if self.speed is None and self.restamp:
            raise ValueError("without a pace there is no time to restamp by; keep the original times")


class RecordedDevice:
    """Plays a recorded stream. Ends when the file ends."""

    def __init__(self, recording: Recording, clock: Clock, *, sleep: Sleep = asyncio.sleep) -> None:
        self._recording = recording
        self._clock = clock
        self._sleep = sleep
        self.info = DeviceInfo(recording.name)

    async def find(self) -> None:
        """See that the file is there.

        Raises:
            DeviceBrokenError: it is not.
        """
        if not self._recording.path.is_file():
            raise DeviceBrokenError(f"no file {self._recording.path}; give a stream NAME.senml.jsonl")

    async def connect(self) -> None:
        """Nothing to open: `samples` begins at the first line."""

    async def disconnect(self) -> None:
        """Nothing is held open."""

    async def samples(self) -> AsyncIterator[Pack]:
        """The packs of the stream, each when it is due.

        Raises:
            DeviceBrokenError: the file or a line cannot be read.
        """
        start_s = self._clock.now_s()
        first_s: float | None = None
        for count, (arrival_s, pack) in enumerate(self._arrivals()):
            first_s = arrival_s if first_s is None else first_s
            if self._recording.speed is None:
                if count % _BREATH_EVERY == 0:
                    await self._sleep(0.0)
                yield self._named(pack)
                continue
            await self._until(start_s + (arrival_s - first_s) / self._recording.speed)
            yield self._named(self._restamped(pack, start_s, first_s))

    async def _until(self, due_s: float) -> None:
        while (left_s := due_s - self._clock.now_s()) > 0.0:
            await self._sleep(self._clock.real_s(left_s))

    def _named(self, pack: Pack) -> Pack:
        return tuple(_in_bay(record, self._recording.bay) for record in pack)

    def _restamped(self, pack: Pack, start_s: float, first_s: float) -> Pack:
        speed = self._recording.speed
        if speed is None or not self._recording.restamp:
            return pack
        return tuple(replace(record, time_s=round(start_s + (record.time_s - first_s) / speed, 6)) for record in pack)

    def _arrivals(self) -> Iterator[tuple[float, Pack]]:
        latest_s = float("-inf")
        for number, line in _lines(self._recording.path):
            try:
                pack = decode(line, now_s=self._clock.now_s())
            except SenmlError as error:
                raise DeviceBrokenError(f"{self._recording.path}:{number}: {error}") from error
            if pack:
                latest_s = max(latest_s, *(record.time_s for record in pack))
                yield latest_s, pack


def _in_bay(record: Record, bay: str | None) -> Record:
    """The record with `bay` as the first segment of its name; unchanged when `bay` is None or already there."""
    if bay is None:
        return record
    first, slash, rest = record.name.partition("/")
    if not slash or first == bay:
        return record
    return replace(record, name=f"{bay}/{rest}")


def _lines(path: Path) -> Iterator[tuple[int, str]]:
    try:
        with path.open(encoding="utf-8") as file:
            for number, line in enumerate(file, start=1):
                if line.strip():
                    yield number, line
    except (OSError, UnicodeDecodeError) as error:
        raise DeviceBrokenError(f"{path} cannot be read: {error}; give a stream NAME.senml.jsonl") from error
