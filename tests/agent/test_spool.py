"""The queue's contract: order, bounds, nothing leaves it uncounted, and what the disk can do to it."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from fillmark.wire.senml import Record, decode
from fillmark_agent.device import Pack
from fillmark_agent.spool import Limits, Refused, Spool, SpoolError

MakePacks = Callable[[int, int], list[Pack]]
OpenSpool = Callable[..., Spool]
ALL = (10**9, 10**9)


def queued(spool: Spool) -> list[Pack]:
    return [decode(row.body, now_s=0.0) for row in spool.peek(*ALL)]


def action(time_s: float) -> Pack:
    return (Record("bay-1/action", time_s, text='{"type":"note","text":"Öl geprüft"}'),)


def allow_pages(spool: Spool, more: int) -> None:
    """Let the database grow by so many pages from now on: beyond it SQLite reports a full disk."""
    pages = spool._file._db.execute("PRAGMA page_count").fetchone()[0]
    spool._file._db.execute(f"PRAGMA max_page_count={pages + more}")


def test_packs_come_back_whole_and_in_order_after_reopening(open_spool: OpenSpool, make_packs: MakePacks) -> None:
    packs = [*make_packs(20, 3), action(1_800_000_100.0)]
    spool = open_spool()
    spool.append(packs[:5])
    spool.append(packs[5:])
    assert queued(spool) == packs
    spool.close()
    again = open_spool()
    assert queued(again) == packs
    assert (again.stats.packs, again.stats.records) == (21, 61)


def test_every_change_is_forced_to_the_disk_before_it_returns(open_spool: OpenSpool) -> None:
    """WAL with synchronous=FULL (2): the log is synced at every commit. SQLite documentation, "PRAGMA synchronous"."""
    database = open_spool()._file._db
    assert database.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    assert database.execute("PRAGMA synchronous").fetchone() == (2,)


def test_peeking_takes_nothing_and_settling_takes_what_was_named(open_spool: OpenSpool, make_packs: MakePacks) -> None:
    packs = make_packs(10, 2)
    spool = open_spool()
    spool.append(packs)
    first = spool.peek(6, 10**6)
    assert spool.peek(6, 10**6) == first
    spool.settle(first)
    assert queued(spool) == packs[3:]
    spool.settle(first)
    assert queued(spool) == packs[3:]
    assert spool.stats.records == 14


@pytest.mark.parametrize(("records", "size", "packs"), [(1, 10**6, 1), (6, 10**6, 3), (7, 10**6, 3), (100, 1, 1)])
def test_a_batch_keeps_to_both_limits_but_is_never_empty(
    open_spool: OpenSpool, make_packs: MakePacks, records: int, size: int, packs: int
) -> None:
    spool = open_spool()
    spool.append(make_packs(10, 2))
    assert len(spool.peek(records, size)) == packs


def test_packs_from_a_time_on_can_be_left_out(open_spool: OpenSpool, make_packs: MakePacks) -> None:
    packs = make_packs(4, 1)
    spool = open_spool()
    spool.append(packs)
    assert [row.latest_s for row in spool.peek(*ALL, before_s=packs[2][0].time_s)] == [
        packs[0][0].time_s, packs[1][0].time_s,
    ]  # fmt: skip


def test_what_is_refused_is_kept_and_counted_for_good(open_spool: OpenSpool, make_packs: MakePacks) -> None:
    spool = open_spool(Limits(refused=2))
    spool.append(make_packs(3, 1))
    rows = spool.peek(*ALL)
    items = [Refused(422, "/p/bad", f"problem {n}", row.body.decode()) for n, row in enumerate(rows)]
    spool.settle(rows, items)
    assert spool.refused() == tuple(items[1:])
    spool.close()
    again = open_spool()
    assert (again.stats.records, again.stats.refused, again.refused()) == (0, 3, tuple(items[1:]))


@pytest.mark.parametrize("bad", [float("nan"), float("inf")])
def test_a_value_that_is_no_number_is_set_apart_and_the_rest_of_its_pack_kept(
    open_spool: OpenSpool, make_packs: MakePacks, bad: float
) -> None:
    good = make_packs(1, 2)[0]
    spool = open_spool()
    spool.append([(good[0], Record("bay-1/low/pressure", 1.8e9, unit="Pa", value=bad), good[1])])
    assert queued(spool) == [good]
    assert spool.stats.refused == 1
    assert spool.refused()[0].problem == "bay-1/low/pressure: the value is not finite"


@pytest.mark.parametrize("limits", [Limits(records=10), Limits(size=650)])
def test_a_full_spool_loses_the_oldest_readings_never_an_action_and_says_so(
    open_spool: OpenSpool, make_packs: MakePacks, caplog: pytest.LogCaptureFixture, limits: Limits
) -> None:
    packs = make_packs(30, 1)
    spool = open_spool(limits)
    spool.append([action(1_800_000_000.0), *packs[:8]])
    for pack in packs[8:]:
        spool.append([pack])
    kept = queued(spool)
    assert kept[0] == action(1_800_000_000.0)
    assert kept[1:] == packs[-len(kept) + 1 :]
    assert 5 < len(kept) <= 10
    assert spool.stats.lost == 30 - (len(kept) - 1)
    assert spool.stats.size <= limits.size
    assert "the spool is full" in caplog.text
    spool.close()
    assert open_spool(limits).stats.lost == 30 - (len(kept) - 1)


def test_actions_go_beyond_the_bound_rather_than_being_lost(open_spool: OpenSpool) -> None:
    packs = [action(1_800_000_000.0 + n) for n in range(20)]
    spool = open_spool(Limits(records=5))
    spool.append(packs)
    assert queued(spool) == packs
    assert spool.stats.lost == 0


def test_a_full_disk_keeps_readings_in_memory_and_writes_them_when_there_is_room(
    open_spool: OpenSpool, make_packs: MakePacks, caplog: pytest.LogCaptureFixture
) -> None:
    packs = make_packs(3000, 1)
    spool = open_spool()
    spool.append(packs[:1000])
    allow_pages(spool, 2)
    for begin in range(1000, 3000, 100):
        spool.append(packs[begin : begin + 100])
    assert spool.stats.in_memory > 0
    assert caplog.text.count("free some disk space") == 1
    assert queued(spool) == packs
    allow_pages(spool, 10_000)
    spool.append(make_packs(1, 1))
    assert spool.stats.in_memory == 0
    assert "is written again" in caplog.text
    spool.close()
    assert queued(open_spool()) == [*packs, *make_packs(1, 1)]


def test_a_full_disk_still_lets_everything_through(open_spool: OpenSpool, make_packs: MakePacks) -> None:
    packs = make_packs(3000, 1)
    spool = open_spool()
    allow_pages(spool, 2)
    spool.append(packs)
    delivered: list[Pack] = []
    while rows := spool.peek(500, 10**6):
        delivered += [decode(row.body, now_s=0.0) for row in rows]
        spool.settle(rows)
    assert delivered == packs
    assert spool.stats.records == 0


def test_memory_is_bounded_too_and_the_loss_is_counted(open_spool: OpenSpool, make_packs: MakePacks) -> None:
    packs = make_packs(2000, 1)
    spool = open_spool(Limits(memory_records=50))
    allow_pages(spool, 0)
    spool.append([action(1_800_000_000.0)])
    for begin in range(0, 2000, 100):
        spool.append(packs[begin : begin + 100])
    stats = spool.stats
    assert stats.in_memory <= 51
    assert stats.lost + stats.records == 2001
    assert stats.lost > 0
    kept = queued(spool)
    assert action(1_800_000_000.0) in kept
    assert kept[-1] == packs[-1]


def test_a_removal_that_the_disk_did_not_take_is_not_sent_again(
    open_spool: OpenSpool, make_packs: MakePacks, monkeypatch: pytest.MonkeyPatch
) -> None:
    packs = make_packs(6, 1)
    spool = open_spool()
    spool.append(packs)

    def fail(*_: object) -> None:
        raise sqlite3.OperationalError("disk I/O error")

    with monkeypatch.context() as patch:
        patch.setattr(spool._file, "settle", fail)
        spool.settle(spool.peek(2, 10**6))
        assert queued(spool) == packs[2:]
        assert spool.stats.records == 4
        assert spool.stats.failures == 1
    spool.settle(spool.peek(1, 10**6))
    spool.close()
    assert queued(open_spool()) == packs[3:]


@pytest.mark.parametrize("damage", ["no database", "broken page"])
def test_a_damaged_file_is_moved_aside_and_a_new_one_begun(
    open_spool: OpenSpool,
    make_packs: MakePacks,
    spool_path: Path,
    caplog: pytest.LogCaptureFixture,
    damage: str,
) -> None:
    spool = open_spool()
    spool.append(make_packs(2000, 1))
    spool.close()
    good = spool_path.read_bytes()
    bad = b"this is no database" * 500 if damage == "no database" else good[:8192] + b"\xa5" * 8192 + good[16384:]
    spool_path.write_bytes(bad)
    again = open_spool()
    again.append(make_packs(1, 1))
    assert queued(again) == make_packs(1, 1)
    aside = spool_path.with_name("spool.sqlite.damaged-1800000000")
    assert aside.read_bytes() == bad
    assert str(aside) in caplog.text
    assert "has not been sent" in caplog.text


def test_damage_in_the_middle_of_work_is_survived(
    open_spool: OpenSpool, make_packs: MakePacks, spool_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    packs = make_packs(3000, 1)
    spool = open_spool()
    spool.append(packs[:2000])
    spool._file._db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    spool._file._db.execute("PRAGMA cache_size=1")
    spool._file._db.execute("PRAGMA shrink_memory")
    with spool_path.open("r+b") as file:
        file.seek(8192)
        file.write(b"\xa5" * (spool_path.stat().st_size - 8192))
    with pytest.raises(SpoolError, match="cannot be read"):
        spool.peek(*ALL)
    assert "is damaged" in caplog.text
    spool.append(packs[2000:])
    assert queued(spool) == packs[2000:]


def test_a_second_agent_is_told_that_the_spool_is_in_use(open_spool: OpenSpool, spool_path: Path) -> None:
    open_spool()
    with pytest.raises(SpoolError, match=r"locked; stop the other agent or give this one its own spool"):
        Spool(spool_path)


def test_somebody_elses_database_is_left_alone(spool_path: Path) -> None:
    with closing(sqlite3.connect(spool_path)) as database:
        database.execute("CREATE TABLE notes (text)")
    with pytest.raises(SpoolError, match="somebody else's database"):
        Spool(spool_path)
    with closing(sqlite3.connect(spool_path)) as database:
        assert database.execute("SELECT name FROM sqlite_master").fetchall() == [("notes",)]


def test_a_spool_of_another_version_is_left_alone(open_spool: OpenSpool, spool_path: Path) -> None:
    open_spool().close()
    with closing(sqlite3.connect(spool_path)) as database:
        database.execute("PRAGMA user_version=7")
    with pytest.raises(SpoolError, match="version 7, this agent writes version 1"):
        Spool(spool_path)


def test_a_folder_that_cannot_be_made_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    with pytest.raises(SpoolError, match="give a path that can be written"):
        Spool(tmp_path / "file" / "spool.sqlite")


def test_the_end_is_a_last_chance_to_write_what_is_in_memory(open_spool: OpenSpool, make_packs: MakePacks) -> None:
    packs = make_packs(2000, 1)
    spool = open_spool()
    allow_pages(spool, 0)
    spool.append(packs)
    assert spool.stats.in_memory > 0
    allow_pages(spool, 10_000)
    spool.close()
    assert queued(open_spool()) == packs


def test_what_was_only_in_memory_at_the_end_is_told(
    open_spool: OpenSpool, make_packs: MakePacks, caplog: pytest.LogCaptureFixture
) -> None:
    spool = open_spool()
    allow_pages(spool, 0)
    spool.append(make_packs(2000, 1))
    assert spool.stats.in_memory > 0
    spool.close()
    told = re.search(r"(\d+) readings were only in memory and are lost", caplog.text)
    assert told is not None
    assert int(told[1]) + open_spool().stats.records == 2000
