"""The spool: packs on disk, oldest first, until the service has acknowledged them.

* A pack leaves the queue in three ways only, and each is counted: acknowledged, refused as bad, lost because full.
* When it is full, the oldest readings are lost first. A scale shows what stands on it now, so the newest reading is
  worth most. What the technician did is never given up for room.
* When the disk cannot be written, packs wait in memory, within bounds, and are still delivered. They go to the disk
  with the next pack that it takes.
* A removal that the disk did not take is remembered: the pack is not sent again by this process. After a crash it may
  be, and a repeated reading changes nothing.
"""

from __future__ import annotations

import logging
import sqlite3
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import chain, islice
from pathlib import Path

from fillmark.wire import channels
from fillmark.wire.senml import Record, SenmlError, encode
from fillmark_agent.spool_file import (
    Held,
    Refused,
    Row,
    SpoolError,
    SpoolFile,
    held_by,
    is_damage,
    move_aside,
)

__all__ = ["Limits", "Refused", "Row", "Spool", "SpoolError", "SpoolStats"]

_LOG = logging.getLogger(__name__)
_CHUNK = 1000


@dataclass(frozen=True, slots=True)
class Limits:
    """Bounds of the spool.

    Attributes:
        records: most records on disk.
        size: most bytes of packs on disk.
        memory_records: most records in memory while the disk cannot be written.
        refused: how many refused records are kept to be looked at.
    """

    records: int = 5_000_000
    size: int = 512 * 1024 * 1024
    memory_records: int = 100_000
    refused: int = 100_000


@dataclass(frozen=True, slots=True)
class SpoolStats:
    """Counts. `refused` and `lost` are of the file's whole life, `failures` of this process."""

    records: int = 0
    packs: int = 0
    size: int = 0
    in_memory: int = 0
    refused: int = 0
    lost: int = 0
    failures: int = 0


class Spool:
    """The queue on disk. Not for use from two threads at once; see `AsyncSpool`."""

    def __init__(self, path: Path, limits: Limits | None = None, *, now_s: Callable[[], float] = time.time) -> None:
        """Open the spool; a damaged file is moved aside and a new one begun.

        Raises:
            SpoolError: the file is in use, foreign, or cannot be opened.
        """
        self.path = path
        self.limits = limits or Limits()
        self._now_s = now_s
        self._memory: dict[int, Row] = {}
        self._gone: dict[int, Row] = {}
        self._refused: list[tuple[float, Refused]] = []
        self._lost_uncounted = 0
        self._failures = 0
        self._trouble: str | None = None
        self._next_id = 1
        self._file = self._open()
        self._update()

    def _open(self) -> SpoolFile:
        try:
            file = SpoolFile(self.path)
        except sqlite3.DatabaseError as error:
            if not is_damage(error):
                raise SpoolError(f"the spool {self.path} cannot be used: {error}; see the disk") from error
            aside = move_aside(self.path, self._now_s)
            _LOG.error(
                "the spool %s is damaged (%s): moved to %s, a new one begun; what was in it has not been sent",
                self.path, error, aside,
            )  # fmt: skip
            file = SpoolFile(self.path)
        self._refused_count = file.counter("refused")
        self._lost = file.counter("lost")
        self._next_id = max(self._next_id, file.next_id)
        return file

    def _update(self) -> None:
        """Replace the counts by new ones, at once, because another thread reads them."""
        memory = held_by(self._memory.values())
        held = self._file.held.plus(memory).minus(held_by(self._gone.values()))
        self.stats = SpoolStats(
            records=held.records,
            packs=held.packs,
            size=held.size,
            in_memory=memory.records,
            refused=self._refused_count + len(self._refused),
            lost=self._lost + self._lost_uncounted,
            failures=self._failures,
        )

    def append(self, packs: Sequence[Sequence[Record]]) -> None:
        """Store packs at the end of the queue.

        On return they are durable, or in memory with a message in the log that says so.
        """
        for pack in packs:
            for row in self._rows_of(pack):
                self._memory[row.id] = row
        self._flush()
        if self._refused:
            self.settle(())
        self._update()

    def _rows_of(self, pack: Sequence[Record]) -> Iterator[Row]:
        good = []
        for record in pack:
            try:
                encode((record,))
                good.append(record)
            except ValueError:
                self._refuse(Refused(None, "not-a-number", f"{record.name}: the value is not finite", repr(record)))
        if good:
            yield Row(
                id=self._next_id,
                latest_s=max(record.time_s for record in good),
                records=len(good),
                actions=sum(_is_action(record) for record in good),
                body=encode(good).encode(),
            )
            self._next_id += 1

    def _flush(self) -> None:
        """Write what is in memory, within the bounds. A disk that failed is tried with a single pack first."""
        chunk = 1 if self._trouble else _CHUNK
        while self._memory:
            if not self._store(tuple(islice(self._memory.values(), chunk))):
                self._bound_memory()
                return
            chunk = _CHUNK
        if self._trouble is not None and not self._gone:
            _LOG.warning("the spool %s is written again", self.path)
            self._trouble = None

    def _store(self, rows: Sequence[Row]) -> bool:
        drops, lost = self._overflow(rows)
        kept = [row for row in rows if row.id not in drops]
        lost_before = self._lost_uncounted
        if not self._write(lambda: self._file.append(kept, drops, lost + lost_before)):
            return False
        for row in rows:
            del self._memory[row.id]
        self._lost += lost + lost_before
        self._lost_uncounted = 0
        if lost:
            _LOG.error("the spool is full: lost the %d oldest readings; %d lost so far", lost, self._lost)
        return True

    def _overflow(self, rows: Sequence[Row]) -> tuple[set[int], int]:
        """Which rows have to go, and how many records that loses, for `rows` to fit."""
        over = self._file.held.plus(held_by(rows)).minus(Held(0, self.limits.records, self.limits.size))
        drops: set[int] = set()
        lost = 0
        fresh = ((row.id, row.records, len(row.body)) for row in rows if not row.actions)
        try:
            for row_id, records, size in chain(self._file.droppable(), fresh):
                if over.records <= 0 and over.size <= 0:
                    break
                drops.add(row_id)
                lost += 0 if row_id in self._gone else records
                over = over.minus(Held(1, records, size))
        except sqlite3.Error as error:
            self._fail(error)
        return drops, lost

    def _bound_memory(self) -> None:
        excess = sum(row.records for row in self._memory.values()) - self.limits.memory_records
        for row in [row for row in self._memory.values() if not row.actions]:
            if excess <= 0:
                break
            del self._memory[row.id]
            excess -= row.records
            self._lost_uncounted += row.records

    def peek(self, records: int, size: int, before_s: float = float("inf")) -> tuple[Row, ...]:
        """The oldest packs up to so many records and bytes, at least one when there is any.

        Raises:
            SpoolError: the disk cannot be read now.
        """
        taken: list[Row] = []
        try:
            for row in self._ordered(before_s):
                records -= row.records
                size -= len(row.body)
                if taken and (records < 0 or size < 0):
                    break
                taken.append(row)
        except sqlite3.Error as error:
            self._fail(error)
            raise SpoolError(f"the spool {self.path} cannot be read: {error}") from error
        return tuple(taken)

    def _ordered(self, before_s: float) -> Iterator[Row]:
        yield from (row for row in self._file.rows(before_s) if row.id not in self._gone)
        yield from (row for row in self._memory.values() if row.latest_s < before_s)

    def settle(self, rows: Sequence[Row], refused: Sequence[Refused] = ()) -> None:
        """Take delivered packs out of the queue and keep what was refused of them, in one transaction."""
        for item in refused:
            self._refuse(item)
        for row in rows:
            if self._memory.pop(row.id, None) is None:
                self._gone[row.id] = row
        if self._write(lambda: self._file.settle(self._gone, self._refused, self.limits.refused)):
            self._refused_count += len(self._refused)
            self._gone.clear()
            self._refused.clear()
        self._flush()
        self._update()

    def _refuse(self, item: Refused) -> None:
        self._refused.append((self._now_s(), item))

    def refused(self) -> tuple[Refused, ...]:
        """The refused records that are kept, oldest first."""
        return (*self._file.refused(), *(item for _, item in self._refused))

    def _write(self, change: Callable[[], None]) -> bool:
        try:
            change()
        except sqlite3.Error as error:
            self._fail(error)
            return False
        return True

    def _fail(self, error: sqlite3.Error) -> None:
        self._failures += 1
        if is_damage(error):
            self._replace()
        elif self._trouble is None:
            self._trouble = str(error)
            _LOG.error(
                "the spool %s cannot be written (%s): readings wait in memory, at most %d, and are still sent; "
                "free some disk space", self.path, error, self.limits.memory_records,
            )  # fmt: skip

    def _replace(self) -> None:
        self._file.close()
        try:
            self._file = self._open()
        except (SpoolError, sqlite3.Error, OSError) as error:
            self._trouble = str(error)
            _LOG.error("no new spool %s can be begun: %s; readings wait in memory", self.path, error)
        else:
            self._gone.clear()

    def close(self) -> None:
        """Write what is still in memory and close."""
        self._flush()
        if self._memory:
            _LOG.error(
                "the spool %s could not be written: %d readings were only in memory and are lost",
                self.path, sum(row.records for row in self._memory.values()),
            )  # fmt: skip
        self._file.close()


def _is_action(record: Record) -> bool:
    try:
        return channels.parse(record.name).quantity == channels.ACTION
    except SenmlError:
        return False
