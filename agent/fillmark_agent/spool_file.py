"""The spool's SQLite file: what is on disk, in one order, each change in one transaction.

* WAL with synchronous=FULL: a change that returned survives a kill and a power cut.
* The file is locked for one agent; a second one is told so.
* A damaged file is moved aside, never repaired in place and never deleted.
* A file that is sound but not ours is left alone.
"""

from __future__ import annotations

import sqlite3
import time
from collections.abc import Callable, Collection, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

APPLICATION_ID = 0x464D5350
VERSION = 1

_SCHEMA = """
CREATE TABLE packs (
    id INTEGER PRIMARY KEY, latest_s REAL NOT NULL, records INTEGER NOT NULL, actions INTEGER NOT NULL,
    body BLOB NOT NULL);
CREATE TABLE refused (
    id INTEGER PRIMARY KEY AUTOINCREMENT, at_s REAL NOT NULL, status INTEGER, type TEXT NOT NULL,
    problem TEXT NOT NULL, record TEXT NOT NULL);
CREATE TABLE counters (name TEXT PRIMARY KEY, value INTEGER NOT NULL);
"""
_DAMAGE = (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB)
_COMPANIONS = ("", "-wal", "-shm", "-journal")


class SpoolError(Exception):
    """The spool cannot be used as asked; the text says what to do."""


@dataclass(frozen=True, slots=True)
class Row:
    """One pack in the queue.

    Attributes:
        id: place in the order.
        latest_s: latest time of its records, Unix seconds.
        records: how many records it has.
        actions: how many of them are the technician's actions.
        body: the pack's JSON, as `fillmark.wire.senml.encode` writes it.
    """

    id: int
    latest_s: float
    records: int
    actions: int
    body: bytes


@dataclass(frozen=True, slots=True)
class Refused:
    """A record that the service will not take, with its reason.

    Attributes:
        status: HTTP status, None when the record never left the agent.
        type: type of the problem document, or "about:blank".
        problem: what is wrong, for a person.
        record: the record as a pack of one, JSON.
    """

    status: int | None
    type: str
    problem: str
    record: str


@dataclass(frozen=True, slots=True)
class Held:
    """How much the queue holds: packs, their records, their bytes."""

    packs: int = 0
    records: int = 0
    size: int = 0

    def plus(self, other: Held) -> Held:
        """Both together."""
        return Held(self.packs + other.packs, self.records + other.records, self.size + other.size)

    def minus(self, other: Held) -> Held:
        """This without the other."""
        return Held(self.packs - other.packs, self.records - other.records, self.size - other.size)


def held_by(rows: Collection[Row]) -> Held:
    """What these rows hold."""
    return Held(len(rows), sum(row.records for row in rows), sum(len(row.body) for row in rows))


def is_damage(error: sqlite3.Error) -> bool:
    """Whether the error says that the file itself is damaged."""
    code = getattr(error, "sqlite_errorcode", None)
    return code is not None and (code & 0xFF) in _DAMAGE


def move_aside(path: Path, now_s: Callable[[], float] = time.time) -> Path:
    """Rename a damaged file and its companions; the new name is returned."""
    stem = f"{path}.damaged-{int(now_s())}"
    aside, count = Path(stem), 1
    while aside.exists():
        aside, count = Path(f"{stem}-{count}"), count + 1
    for suffix in _COMPANIONS:
        source = Path(f"{path}{suffix}")
        if source.exists():
            source.rename(f"{aside}{suffix}")
    return aside


class SpoolFile:
    """An open spool file. Every method may raise sqlite3.Error and then has changed nothing."""

    def __init__(self, path: Path) -> None:
        """Open or make the file.

        Raises:
            SpoolError: in use by another agent, of another version, not a spool, or a folder that cannot be used.
            sqlite3.DatabaseError: damaged, see `is_damage`.
        """
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            self._db = sqlite3.connect(path, timeout=0.2, isolation_level=None, check_same_thread=False)
        except (OSError, sqlite3.Error) as error:
            raise SpoolError(f"the spool {path} cannot be opened: {error}; give a path that can be written") from error
        self.held = Held()
        self.next_id = 1
        try:
            self._prepare(path)
        except BaseException:
            self._db.close()
            raise

    def _prepare(self, path: Path) -> None:
        try:
            self._db.execute("PRAGMA locking_mode=EXCLUSIVE")
            self._db.execute("PRAGMA journal_mode=WAL").fetchone()
            self._db.execute("PRAGMA synchronous=FULL")
            self._db.execute("PRAGMA journal_size_limit=16777216")
            self._db.execute("BEGIN IMMEDIATE")
        except sqlite3.OperationalError as error:
            if is_damage(error):
                raise
            hint = "stop the other agent or give this one its own spool" if "locked" in str(error) else "see the disk"
            raise SpoolError(f"the spool {path} cannot be used: {error}; {hint}") from error
        self._identify(path)
        self._db.execute("COMMIT")
        verdict = self._db.execute("PRAGMA quick_check(1)").fetchone()[0]
        if verdict != "ok":
            damage = sqlite3.DatabaseError(verdict)
            damage.sqlite_errorcode = sqlite3.SQLITE_CORRUPT
            raise damage
        if self._db.execute("SELECT NOT EXISTS (SELECT 1 FROM packs)").fetchone()[0]:
            self._db.execute("VACUUM")
        self._take_stock()

    def _identify(self, path: Path) -> None:
        owner = self._db.execute("PRAGMA application_id").fetchone()[0]
        version = self._db.execute("PRAGMA user_version").fetchone()[0]
        tables = self._db.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]
        if owner == APPLICATION_ID and version == VERSION:
            return
        if owner == APPLICATION_ID:
            raise SpoolError(
                f"the spool {path} has version {version}, this agent writes version {VERSION}; give another path"
            )
        if tables:
            raise SpoolError(f"{path} is somebody else's database, not a spool; give another path")
        for statement in _SCHEMA.split(";"):
            self._db.execute(statement)
        self._db.execute(f"PRAGMA application_id={APPLICATION_ID}")
        self._db.execute(f"PRAGMA user_version={VERSION}")

    @contextmanager
    def _transaction(self) -> Iterator[None]:
        self._db.execute("BEGIN IMMEDIATE")
        try:
            yield
            self._db.execute("COMMIT")
        except BaseException:
            if self._db.in_transaction:
                self._db.execute("ROLLBACK")
            raise

    def _take_stock(self) -> None:
        row = self._db.execute(
            "SELECT count(*), coalesce(sum(records), 0), coalesce(sum(length(body)), 0), coalesce(max(id), 0) + 1"
            " FROM packs"
        ).fetchone()
        self.held = Held(*row[:3])
        self.next_id = int(row[3])

    def counter(self, name: str) -> int:
        """A count that outlives the process; 0 when never raised."""
        row = self._db.execute("SELECT value FROM counters WHERE name = ?", (name,)).fetchone()
        return int(row[0]) if row else 0

    def append(self, rows: Sequence[Row], drop_ids: Collection[int] = (), lost: int = 0) -> None:
        """Add rows at the end, drop some and count `lost` records, all at once."""
        with self._transaction():
            self._db.executemany(
                "INSERT INTO packs (id, latest_s, records, actions, body) VALUES (?, ?, ?, ?, ?)",
                ((row.id, row.latest_s, row.records, row.actions, row.body) for row in rows),
            )
            dropped = self._delete(drop_ids)
            self._count("lost", lost)
        self.held = self.held.plus(held_by(rows)).minus(dropped)

    def settle(self, ids: Collection[int], refused: Sequence[tuple[float, Refused]], keep_refused: int) -> None:
        """Remove delivered rows, keep what was refused (Unix seconds, record), all at once."""
        with self._transaction():
            removed = self._delete(ids)
            self._db.executemany(
                "INSERT INTO refused (at_s, status, type, problem, record) VALUES (?, ?, ?, ?, ?)",
                ((at_s, item.status, item.type, item.problem, item.record) for at_s, item in refused),
            )
            if refused:
                self._count("refused", len(refused))
                self._db.execute("DELETE FROM refused WHERE id <= (SELECT max(id) FROM refused) - ?", (keep_refused,))
        self.held = self.held.minus(removed)

    def _delete(self, ids: Collection[int]) -> Held:
        removed = Held()
        for row_id in ids:
            found = self._db.execute(
                "DELETE FROM packs WHERE id = ? RETURNING records, length(body)", (row_id,)
            ).fetchone()
            if found is not None:
                removed = removed.plus(Held(1, *found))
        return removed

    def _count(self, name: str, more: int) -> None:
        if more:
            self._db.execute(
                "INSERT INTO counters VALUES (?, ?) ON CONFLICT (name) DO UPDATE SET value = value + excluded.value",
                (name, more),
            )

    def rows(self, before_s: float) -> Iterator[Row]:
        """Rows whose latest time lies before `before_s`, oldest first."""
        for row in self._db.execute(
            "SELECT id, latest_s, records, actions, body FROM packs WHERE latest_s < ? ORDER BY id", (before_s,)
        ):
            yield Row(*row)

    def droppable(self) -> Iterator[tuple[int, int, int]]:
        """(id, records, size) of rows without an action, oldest first."""
        yield from self._db.execute("SELECT id, records, length(body) FROM packs WHERE actions = 0 ORDER BY id")

    def refused(self) -> tuple[Refused, ...]:
        """The refused records that are kept, oldest first."""
        found = self._db.execute("SELECT status, type, problem, record FROM refused ORDER BY id")
        return tuple(Refused(*row) for row in found)

    def close(self) -> None:
        """Close the file."""
        self._db.close()
