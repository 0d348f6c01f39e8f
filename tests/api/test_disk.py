"""A disk that is full or fails: what is shown goes on, nothing is acknowledged, nothing is lost, nothing twice."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, cast

from fillmark.store.log import KeptAnswer, LogEntry, LogUnavailableError
from fillmark.store.memory import MemoryLog
from fillmark.store.sqlite import SqliteLog

if TYPE_CHECKING:
    from tests.api.conftest import Desk, MakeDesk, Until

START_S = 1_800_000_000.0


async def set_room(desk: Desk, pages: int) -> None:
    log = cast("SqliteLog", desk.keeper.log)
    await log._writer.execute(f"PRAGMA max_page_count = {pages}")


async def fill(desk: Desk) -> int:
    """Post notes until the disk is full; how many were refused or taken."""
    for number in range(100):
        answer = await desk.act("bay-1.1", "note", key=f"n{number}", text="x" * 1900)
        if answer.status_code != 200:
            assert (answer.status_code, answer.json()["type"]) == (507, "/problems/storage-full")
            assert "send it again" in answer.json()["detail"]
            assert answer.headers["retry-after"] == "2"
            return number
    raise AssertionError("the disk was never full")


async def test_a_full_disk(make_desk: MakeDesk, tmp_path: Path, until: Until) -> None:
    path = tmp_path / "log.db"
    async with make_desk(database=path) as desk:
        await desk.open()
        await set_room(desk, 1)
        number = await fill(desk)
        position = desk.keeper.workshop.position
        health = (await desk.http.get("/health")).json()
        assert (health["status"], health["pending"], health["durable_position"]) == ("degraded", 1, position - 1)
        # What is shown goes on: the note is there, and a stop point would be.
        assert len((await desk.http.get("/v1/jobs/bay-1.1")).json()["notes"]) == number + 1
        again = await desk.act("bay-1.1", "note", key=f"n{number}", text="x" * 1900)
        assert again.status_code == 507
        assert desk.keeper.workshop.position == position

        await set_room(desk, 100_000)
        await until(lambda: desk.keeper.writer.pending == 0)
        assert (await desk.http.get("/health")).json()["status"] == "ok"
        assert (await desk.act("bay-1.1", "note", key=f"n{number}", text="x" * 1900)).json()["position"] == position
        before = (await desk.http.get("/v1/jobs/bay-1.1")).content
    async with make_desk(database=path) as desk:
        assert (await desk.http.get("/v1/jobs/bay-1.1")).content == before
        again = await desk.act("bay-1.1", "note", key=f"n{number}", text="x" * 1900)
        assert (again.status_code, again.json()["position"]) == (200, position)
        assert desk.keeper.workshop.position == position


class FlakyLog(MemoryLog):
    """A log that fails when told to, before or after the entries have reached it."""

    before = False
    after = False

    async def append(self, entries: Sequence[LogEntry], answers: Sequence[KeptAnswer] = ()) -> None:
        if self.before:
            raise LogUnavailableError("disk I/O error")
        await super().append(entries, answers)
        if self.after:
            raise LogUnavailableError("disk I/O error at the last moment")


def put_in(desk: Desk) -> FlakyLog:
    log = FlakyLog()
    desk.keeper.log = log
    desk.keeper.writer._log = log
    return log


async def test_a_failing_disk_keeps_the_order_and_the_readings(desk: Desk, until: Until) -> None:
    log = put_in(desk)
    log.before = True
    answers = await asyncio.gather(*(desk.mass(1.0, START_S + n * 1e-3) for n in range(20)))
    assert {(a.status_code, a.json()["type"]) for a in answers} == {(503, "/problems/not-durable")}
    again = await desk.mass(1.0, START_S)
    assert again.status_code == 503
    log.before = False
    assert (await desk.mass(1.0, START_S)).json() == {"accepted": 0, "duplicate": 1, "unassigned": 0, "position": 20}
    await until(lambda: desk.keeper.writer.failure is None)
    assert [entry.position for entry in await log.read(0, 99)] == list(range(1, 21))


async def test_a_commit_that_fails_after_it_has_reached_the_disk_is_not_written_twice(desk: Desk, until: Until) -> None:
    log = put_in(desk)
    log.after = True
    assert (await desk.mass(1.0, START_S)).status_code == 503
    log.after = False
    await until(lambda: desk.keeper.writer.pending == 0)
    assert (await desk.mass(1.0, START_S + 1.0)).status_code == 200
    assert [entry.position for entry in await log.read(0, 99)] == [1, 2]


async def test_what_waits_is_bounded_and_a_refusal_adopts_nothing(make_desk: MakeDesk) -> None:
    async with make_desk(pending_entries=3) as desk:
        log = put_in(desk)
        log.before = True
        for n in range(3):
            assert (await desk.mass(1.0, START_S + n)).json()["type"] == "/problems/not-durable"
        refused = await desk.mass(1.0, START_S + 3.0)
        assert refused.json()["type"] == "/problems/backlog-full"
        assert desk.keeper.workshop.position == 3
        log.before = False
