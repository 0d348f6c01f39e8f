"""The log in a file: what is refused at opening, and what happens when the disk fails."""

from __future__ import annotations

import asyncio
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from fillmark.store import schema
from fillmark.store.log import LogEntry, LogFullError, LogInUseError, LogUnavailableError, NotALogError, Snapshot
from fillmark.store.sqlite import SqliteLog

MakeEntry = Callable[..., LogEntry]


async def test_a_log_goes_on_where_it_was(tmp_path: Path, entry: MakeEntry) -> None:
    path = tmp_path / "log.db"
    log = await SqliteLog.open(path)
    await log.append([entry(1), entry(2)])
    await log.close()
    log = await SqliteLog.open(path)
    assert await log.last_position() == 2
    await log.append([entry(3)])
    assert [e.position for e in await log.read(0, 9)] == [1, 2, 3]
    await log.close()


async def test_every_commit_goes_through_to_the_disk(tmp_path: Path) -> None:
    # SQLite, "PRAGMA synchronous": FULL (2) in WAL mode syncs the log after each transaction.
    log = await SqliteLog.open(tmp_path / "log.db")
    modes = [await (await log._writer.execute(f"PRAGMA {name}")).fetchone() for name in ("journal_mode", "synchronous")]
    await log.close()
    assert [tuple(mode) for mode in modes if mode is not None] == [("wal",), (2,)]


async def test_a_batch_is_one_transaction(tmp_path: Path, entry: MakeEntry) -> None:
    log = await SqliteLog.open(tmp_path / "log.db")
    await log.append([entry(n) for n in range(1, 101)])
    assert log.transactions == 1
    await log.close()


async def test_a_file_that_is_no_database_is_refused_and_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "notes.txt"
    path.write_text("Refrigerant order, November: 12 cans.\n" * 20)
    before = path.read_bytes()
    with pytest.raises(NotALogError, match=r"notes\.txt is no database: name another file"):
        await SqliteLog.open(path)
    assert path.read_bytes() == before


async def test_a_database_of_something_else_is_refused_and_left_alone(tmp_path: Path) -> None:
    path = tmp_path / "parts.db"
    with closing(sqlite3.connect(path)) as other:
        other.execute("CREATE TABLE part (name TEXT)")
        other.commit()
    before = path.read_bytes()
    with pytest.raises(NotALogError, match="no log of Fillmark"):
        await SqliteLog.open(path)
    assert path.read_bytes() == before


async def test_another_version_of_the_schema_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    await (await SqliteLog.open(path)).close()
    with closing(sqlite3.connect(path)) as later:
        later.execute(f"PRAGMA user_version = {schema.VERSION + 1}")
    with pytest.raises(NotALogError, match=f"version {schema.VERSION + 1} and this program reads version"):
        await SqliteLog.open(path)


async def test_a_second_service_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "log.db"
    first = await SqliteLog.open(path)
    with pytest.raises(LogInUseError, match="in use by another service"):
        await SqliteLog.open(path)
    await first.close()
    await (await SqliteLog.open(path)).close()


async def test_a_folder_that_is_missing_is_named(tmp_path: Path) -> None:
    with pytest.raises(LogUnavailableError, match=r"missing/log\.db"):
        await SqliteLog.open(tmp_path / "missing" / "log.db")


async def test_a_full_disk_is_told_apart_and_loses_nothing(tmp_path: Path, entry: MakeEntry) -> None:
    log = await SqliteLog.open(tmp_path / "log.db")
    await log.append([entry(1)])
    await log._writer.execute("PRAGMA max_page_count = 1")  # SQLite raises it to the pages in use: no room is left
    bulky = LogEntry(2, 1.0, "bay-1", "x" * 100_000)
    with pytest.raises(LogFullError, match="no room"):
        await log.append([bulky])
    assert await log.last_position() == 1
    await log._writer.execute("PRAGMA max_page_count = 100000")
    await log.append([bulky])
    assert await log.last_position() == 2
    await log.close()


async def test_a_snapshot_whose_page_has_rotted_is_missing_and_a_gap_is_seen(tmp_path: Path, entry: MakeEntry) -> None:
    path = tmp_path / "log.db"
    log = await SqliteLog.open(path)
    await log.append([entry(n) for n in range(1, 4)])
    await log.keep([Snapshot(name, "v1", 3, "text") for name in ("a", "b")])
    with closing(sqlite3.connect(path)) as other:
        other.execute("UPDATE snapshot SET position = 2 WHERE name = 'a'")
        other.commit()
    assert [snapshot.name for snapshot in await log.snapshots("v1")] == ["b"]
    assert await log.is_gapless()
    with closing(sqlite3.connect(path)) as other:
        other.execute("DELETE FROM entry WHERE position = 2")
        other.commit()
    assert not await log.is_gapless()
    await log.close()


async def test_snapshots_and_entries_are_written_at_once_without_getting_in_each_others_way(
    tmp_path: Path, entry: MakeEntry
) -> None:
    log = await SqliteLog.open(tmp_path / "log.db")
    kept = [log.keep([Snapshot("now", "v1", n, str(n))]) for n in range(1, 21)]
    await asyncio.gather(*kept, *(log.append([entry(n)]) for n in range(1, 21)))
    assert await log.last_position() == 20
    assert log.transactions == 40
    assert len(await log.snapshots("v1")) == 1
    await log.close()


async def test_a_log_from_before_there_were_snapshots_is_taken(tmp_path: Path, entry: MakeEntry) -> None:
    path = tmp_path / "log.db"
    log = await SqliteLog.open(path)
    await log.append([entry(1)])
    await log.close()
    with closing(sqlite3.connect(path)) as other:
        other.execute("DROP TABLE snapshot")
    log = await SqliteLog.open(path)
    assert await log.snapshots("v1") == []
    assert await log.last_position() == 1
    await log.close()
