"""The log: everything that happened, in one order. What it holds, what it promises, how it fails.

* Positions count from 1 without a gap.
* `append` is all or nothing, and durable when it returns.
* A reading is in the log once: the same (channel, time) is refused. An action is told apart by its text as well.
* An answer kept under an idempotency key is durable together with the entries it belongs to.
* Snapshots are a cache of what was folded from it. They are no part of the log: nothing is lost with them.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Identity:
    """What makes a record the same as another: its channel and time, and the text's digest if it is an action."""

    channel: str
    time_s: float
    mark: str = ""


@dataclass(frozen=True, slots=True)
class LogEntry:
    """One entry for one bay.

    Attributes:
        position: place in the log, counted from 1.
        received_s: the service's clock when it arrived, Unix seconds.
        bay: the bay it belongs to.
        pack: its records as the text of a SenML pack, names and times resolved; empty when only time passed.
        identities: one of each record.
    """

    position: int
    received_s: float
    bay: str
    pack: str = ""
    identities: tuple[Identity, ...] = ()


@dataclass(frozen=True, slots=True)
class KeptAnswer:
    """What was answered to a request with an idempotency key.

    Attributes:
        key: the key that the client chose.
        fingerprint: digest of the request, so that another request under the same key is noticed.
        position: the entry that the request made.
        status: HTTP status.
        body: JSON text.
    """

    key: str
    fingerprint: str
    position: int
    status: int
    body: str


@dataclass(frozen=True, slots=True)
class Snapshot:
    """Something folded from the log up to `position`, as text.

    Attributes:
        name: what it is; a newer one takes its place.
        version: of the program that made it; another one cannot read it.
    """

    name: str
    version: str
    position: int
    text: str


class LogError(Exception):
    """The log cannot do what was asked. Nothing was changed."""


class NotALogError(LogError):
    """The file is no log of this product, or of a version that cannot be read."""


class LogInUseError(LogError):
    """Another process writes this log."""


class LogConflictError(LogError):
    """An entry does not follow the last one, or a record or a key is already there."""


class LogDamagedError(LogError):
    """What stands in the log cannot be folded, or does not lead to where it had led."""


class LogUnavailableError(LogError):
    """Writing or reading failed; it may work again later."""


class LogFullError(LogUnavailableError):
    """There is no room left to write."""


class Log(Protocol):
    """An append-only log with one writer."""

    async def append(self, entries: Sequence[LogEntry], answers: Sequence[KeptAnswer] = ()) -> None:
        """Add entries and kept answers in one transaction. They are durable when this returns.

        Raises:
            LogConflictError: an entry, record or key does not fit behind what is there.
            LogFullError: no room.
            LogUnavailableError: the disk failed.
        """

    async def read(self, after: int, limit: int, bay: str | None = None) -> list[LogEntry]:
        """At most `limit` entries with a position above `after`, in order, without their identities."""

    async def last_position(self) -> int:
        """Position of the last entry; 0 when there is none."""

    async def known(self, identities: Iterable[Identity]) -> set[Identity]:
        """Those of `identities` that are in the log."""

    async def answer(self, key: str) -> KeptAnswer | None:
        """The answer kept under an idempotency key."""

    async def keep(self, snapshots: Sequence[Snapshot]) -> None:
        """Keep snapshots of one version, and forget those of others. All or nothing.

        Raises:
            LogUnavailableError: the disk failed, or has no room.
        """

    async def snapshots(self, version: str) -> list[Snapshot]:
        """The snapshots of a version that are whole; a damaged one is missing."""

    async def is_gapless(self) -> bool:
        """Whether every entry up to the last one is there."""

    async def close(self) -> None:
        """Let go of files and threads. A closed log is not used again."""


def check_follows(entries: Sequence[LogEntry], last: int) -> None:
    """Refuse entries that do not follow `last` without a gap.

    Raises:
        LogConflictError: naming the position.
    """
    for offset, entry in enumerate(entries, start=1):
        if entry.position != last + offset:
            raise LogConflictError(f"the entry at position {entry.position} does not follow {last + offset - 1}")
