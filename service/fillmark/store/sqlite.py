"""The log in one SQLite file: write-ahead log, fsync at every commit, one writer.

The writer and the readers have a connection each, so that a long read does not hold a commit up. A second file,
`NAME.lock`, is held locked as long as the log is open, because a second service would write into the same order; the
system frees it when the process dies, however it dies.
"""

from __future__ import annotations

import asyncio
import sqlite3
from collections.abc import AsyncIterator, Iterable, Sequence
from contextlib import asynccontextmanager, suppress
from pathlib import Path

import aiosqlite

from fillmark.store import schema, snapshot_rows
from fillmark.store.log import (
    Identity,
    KeptAnswer,
    LogConflictError,
    LogEntry,
    LogFullError,
    LogInUseError,
    LogUnavailableError,
    NotALogError,
    Snapshot,
    check_follows,
)


class SqliteLog:
    """The log in a file. Made by `open`."""

    def __init__(
        self, path: Path, writer: aiosqlite.Connection, reader: aiosqlite.Connection, lock: aiosqlite.Connection
    ) -> None:
        self.path = path
        self.transactions = 0
        self._writer = writer
        self._reader = reader
        self._lock = lock
        self._channels: dict[str, int] = {}
        self._one = asyncio.Lock()

    @classmethod
    async def open(cls, path: Path) -> SqliteLog:
        """Open a log, or make one where there is no file.

        Raises:
            NotALogError: the file is something else.
            LogInUseError: another process writes it.
            LogUnavailableError: it cannot be opened or made.
        """
        opened: list[aiosqlite.Connection] = []
        try:
            with _named(path):
                lock = await _connect(opened, Path(f"{path}.lock"))
                await _hold(lock, path)
                writer = await _connect(opened, path)
                await writer.execute("PRAGMA foreign_keys = ON")
                await schema.prepare(writer, str(path))
                await writer.execute("PRAGMA journal_mode = WAL")
                await writer.execute("PRAGMA synchronous = FULL")
                reader = await _connect(opened, path)
                await reader.execute("PRAGMA query_only = ON")
        except BaseException:
            for connection in opened:
                await connection.close()
            raise
        return cls(path, writer, reader, lock)

    async def append(self, entries: Sequence[LogEntry], answers: Sequence[KeptAnswer] = ()) -> None:
        """See `Log.append`."""
        async with self._transaction():
            check_follows(entries, await _last(self._writer))
            await self._writer.executemany(
                "INSERT INTO entry VALUES (?, ?, ?, ?)", [(e.position, e.received_s, e.bay, e.pack) for e in entries]
            )
            identities = [identity for entry in entries for identity in entry.identities]
            await self._number({identity.channel for identity in identities})
            await self._writer.executemany(
                "INSERT INTO identity VALUES (?, ?, ?)",
                [(self._channels[i.channel], i.time_s, i.mark) for i in identities],
            )
            await self._writer.executemany(
                "INSERT INTO answer VALUES (?, ?, ?, ?, ?)",
                [(a.key, a.fingerprint, a.position, a.status, a.body) for a in answers],
            )

    async def read(self, after: int, limit: int, bay: str | None = None) -> list[LogEntry]:
        """See `Log.read`."""
        where, values = ("", [after]) if bay is None else ("AND bay = ?", [after, bay])
        query = f"SELECT position, received, bay, pack FROM entry WHERE position > ? {where} ORDER BY position LIMIT ?"  # noqa: S608 - no value is pasted in
        with _named(self.path):
            rows = await self._reader.execute_fetchall(query, [*values, limit])
        return [LogEntry(*row) for row in rows]

    async def last_position(self) -> int:
        """See `Log.last_position`."""
        with _named(self.path):
            return await _last(self._reader)

    async def known(self, identities: Iterable[Identity]) -> set[Identity]:
        """See `Log.known`."""
        query = (
            "SELECT 1 FROM identity JOIN channel ON channel.id = identity.channel "
            "WHERE channel.name = ? AND time = ? AND mark = ?"
        )
        found = set()
        with _named(self.path):
            for identity in identities:
                values = (identity.channel, identity.time_s, identity.mark)
                if await self._reader.execute_fetchall(query, values):
                    found.add(identity)
        return found

    async def answer(self, key: str) -> KeptAnswer | None:
        """See `Log.answer`."""
        query = "SELECT key, fingerprint, position, status, body FROM answer WHERE key = ?"
        with _named(self.path):
            rows = list(await self._reader.execute_fetchall(query, (key,)))
        return KeptAnswer(*rows[0]) if rows else None

    async def keep(self, snapshots: Sequence[Snapshot]) -> None:
        """See `Log.keep`."""
        rows = [await asyncio.to_thread(snapshot_rows.packed, snapshot) for snapshot in snapshots]
        async with self._transaction():
            versions = {snapshot.version for snapshot in snapshots}
            await self._writer.executemany("DELETE FROM snapshot WHERE version <> ?", [(each,) for each in versions])
            await self._writer.executemany("INSERT OR REPLACE INTO snapshot VALUES (?, ?, ?, ?, ?)", rows)

    async def snapshots(self, version: str) -> list[Snapshot]:
        """See `Log.snapshots`."""
        with _named(self.path):
            rows = await self._reader.execute_fetchall("SELECT * FROM snapshot WHERE version = ?", (version,))
        return [snapshot for row in rows if (snapshot := snapshot_rows.unpacked(*row)) is not None]

    async def is_gapless(self) -> bool:
        """See `Log.is_gapless`. Both are counted in an index, which is short."""
        query = "SELECT (SELECT count(*) FROM entry) = (SELECT coalesce(max(position), 0) FROM entry)"
        with _named(self.path):
            return [row[0] for row in await self._reader.execute_fetchall(query)] == [1]

    async def close(self) -> None:
        """See `Log.close`."""
        for connection in (self._reader, self._writer, self._lock):
            await connection.close()

    @asynccontextmanager
    async def _transaction(self) -> AsyncIterator[None]:
        """All or nothing, and on the disk at the end. One at a time."""
        async with self._one:
            try:
                with _named(self.path):
                    await self._writer.execute("BEGIN IMMEDIATE")
                    yield
                    await self._writer.execute("COMMIT")
                    self.transactions += 1
            except BaseException:
                self._channels.clear()
                with suppress(sqlite3.Error):
                    if self._writer.in_transaction:
                        await self._writer.execute("ROLLBACK")
                raise

    async def _number(self, names: set[str]) -> None:
        """Give every channel a number; a number is shorter than a name a million times over."""
        for name in sorted(names - self._channels.keys()):
            await self._writer.execute("INSERT OR IGNORE INTO channel (name) VALUES (?)", (name,))
            rows = await self._writer.execute_fetchall("SELECT id FROM channel WHERE name = ?", (name,))
            self._channels[name] = next(int(row[0]) for row in rows)


async def _connect(opened: list[aiosqlite.Connection], path: Path) -> aiosqlite.Connection:
    # A failed aiosqlite connection leaves a thread that answers to a loop that may be gone; so it is tried without.
    sqlite3.connect(path).close()
    connection = await aiosqlite.connect(path, isolation_level=None, timeout=5.0)
    opened.append(connection)
    return connection


async def _hold(lock: aiosqlite.Connection, path: Path) -> None:
    await lock.execute("PRAGMA busy_timeout = 0")
    try:
        await lock.execute("BEGIN EXCLUSIVE")
    except sqlite3.OperationalError as error:
        if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY:
            raise
        raise LogInUseError(f"{path} is in use by another service: stop that one, or name another file") from error


async def _last(connection: aiosqlite.Connection) -> int:
    rows = await connection.execute_fetchall("SELECT coalesce(max(position), 0) FROM entry")
    return next(int(row[0]) for row in rows)


class _named:  # noqa: N801 - reads as a statement: with _named(path)
    """Turns what SQLite says into the errors of the log."""

    def __init__(self, path: Path) -> None:
        self._path = path

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> None:
        if not isinstance(error, sqlite3.Error):
            return
        code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR) & 0xFF
        if isinstance(error, sqlite3.IntegrityError):
            raise LogConflictError(f"{self._path}: an entry, a record or a key is already there ({error})") from error
        if code == sqlite3.SQLITE_NOTADB:
            raise NotALogError(f"{self._path} is no database: name another file") from error
        if code == sqlite3.SQLITE_FULL:
            raise LogFullError(f"{self._path}: there is no room left ({error})") from error
        raise LogUnavailableError(f"{self._path}: {error}") from error
