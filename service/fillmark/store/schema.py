"""The tables of the log in SQLite, and what is checked before a file is taken for one."""

from __future__ import annotations

import aiosqlite

from fillmark.store.log import NotALogError

APPLICATION_ID = 0x464C4D4B
""""FLMK" in ASCII: written into the file's header, so that a database of something else is not taken for a log."""

VERSION = 1

TABLES = (
    """CREATE TABLE entry (
        position INTEGER PRIMARY KEY,
        received REAL NOT NULL,
        bay TEXT NOT NULL,
        pack TEXT NOT NULL
    ) STRICT""",
    "CREATE INDEX entry_of_bay ON entry (bay, position)",
    "CREATE TABLE channel (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE) STRICT",
    """CREATE TABLE identity (
        channel INTEGER NOT NULL REFERENCES channel (id),
        time REAL NOT NULL,
        mark TEXT NOT NULL,
        PRIMARY KEY (channel, time, mark)
    ) STRICT, WITHOUT ROWID""",
    """CREATE TABLE answer (
        key TEXT PRIMARY KEY,
        fingerprint TEXT NOT NULL,
        position INTEGER NOT NULL REFERENCES entry (position),
        status INTEGER NOT NULL,
        body TEXT NOT NULL
    ) STRICT, WITHOUT ROWID""",
)

SNAPSHOT = """CREATE TABLE IF NOT EXISTS snapshot (
    name TEXT PRIMARY KEY,
    version TEXT NOT NULL,
    position INTEGER NOT NULL,
    packed BLOB NOT NULL,
    digest BLOB NOT NULL
) STRICT"""
"""A cache: it may be emptied or dropped while the log is closed, and belongs to no version of the schema."""


async def prepare(connection: aiosqlite.Connection, path: str) -> None:
    """Make the tables in an empty file, or check that the file is a log of this version.

    Raises:
        NotALogError: it is a database of something else, or of another version.
    """
    application_id = await _pragma(connection, "application_id")
    version = await _pragma(connection, "user_version")
    if application_id == APPLICATION_ID and version == VERSION:
        await connection.execute(SNAPSHOT)
        return
    if application_id == APPLICATION_ID:
        raise NotALogError(
            f"{path} has schema version {version} and this program reads version {VERSION}: use the program that "
            "wrote it, or another file"
        )
    if application_id != 0 or await _pragma(connection, "schema_version") != 0:
        raise NotALogError(f"{path} is a database, but no log of Fillmark: name another file")
    await _create(connection)


async def _create(connection: aiosqlite.Connection) -> None:
    await connection.execute("BEGIN IMMEDIATE")
    for table in TABLES:
        await connection.execute(table)
    await connection.execute(SNAPSHOT)
    await connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    await connection.execute(f"PRAGMA user_version = {VERSION}")
    await connection.execute("COMMIT")


async def _pragma(connection: aiosqlite.Connection, name: str) -> int:
    async with connection.execute(f"PRAGMA {name}") as cursor:
        row = await cursor.fetchone()
    return 0 if row is None else int(row[0])
