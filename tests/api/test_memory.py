"""Memory: a job may stay open for hours at any rate of readings. What is too late for memory comes from the log."""

from __future__ import annotations

import asyncio
import gc
import sys
from pathlib import Path
from typing import TYPE_CHECKING, cast

import pytest

from fillmark.wire.senml import Record

if TYPE_CHECKING:
    from tests.api.conftest import Desk, HandClock, MakeDesk

    from fillmark.store.sqlite import SqliteLog

START_S = 1_800_000_000.0
CHANNELS = [("scale/mass", "kg", 5.0)] + [(f"{side}/pressure", "Pa", 3e5) for side in ("low", "high")]
CHANNELS += [(f"{place}/temperature", "Cel", 20.0) for place in ("suction", "liquid", "vent", "ambient", "discharge")]
RATE_HZ = 1000.0
PACK = 100
MOST_BLOCKS_A_READING = 0.01


def blocks_in_use() -> int:
    gc.collect()
    return sys.getallocatedblocks()


async def charging(desk: Desk, hand: HandClock) -> None:
    await desk.open()
    await desk.act("bay-1.1", "step.begin", step="charging")
    await desk.act("bay-1.1", "container.mount", container="C1", net="900 g")
    hand.elapsed_s = 1.0


async def feed(desk: Desk, hand: HandClock, first: int, count: int) -> None:
    """So many readings of all channels in turn, RATE_HZ a second."""
    for begin in range(first, first + count, PACK):
        records = []
        for number in range(begin, begin + PACK):
            local, unit, value = CHANNELS[number % len(CHANNELS)]
            records.append(Record(f"bay-1/{local}", START_S + 1.0 + number / RATE_HZ, unit, value))
        hand.elapsed_s = 1.0 + (begin + PACK) / RATE_HZ
        await desk.keeper.submit(records)


async def test_memory_is_flat_however_many_readings_an_open_job_takes(
    still_desk: MakeDesk, hand: HandClock, tmp_path: Path
) -> None:
    """Blocks of memory in use: whatever was kept of a reading would take one at least."""
    async with still_desk(database=tmp_path / "log.db", recent_events=512) as desk:
        await charging(desk, hand)
        await feed(desk, hand, 0, 25_000)
        before = blocks_in_use()
        await feed(desk, hand, 25_000, 25_000)
        assert (blocks_in_use() - before) / 25_000 < MOST_BLOCKS_A_READING
        assert len(desk.keeper.workshop.jobs["bay-1.1"].timeline.items) <= 512


async def test_what_is_later_than_memory_reaches_gets_its_place_from_the_log(
    still_desk: MakeDesk, hand: HandClock, tmp_path: Path
) -> None:
    """The scale's readings of a draw come after all others, which were forgotten: the masses are the same."""
    views = []
    for recent_events in (100_000, 128):
        settings = {"database": tmp_path / f"{recent_events}.db", "recent_events": recent_events}
        hand.elapsed_s = 0.0
        async with still_desk(**settings) as desk:
            await charging(desk, hand)
            await desk.mass(5.0, START_S + 1.0)
            await desk.act("bay-1.1", "valve", valve="low", open=True)
            hand.elapsed_s = 40.0
            probes = [Record("bay-1/low/pressure", START_S + 1.0 + n * 0.1, "Pa", 3e5 + n) for n in range(390)]
            for begin in range(0, 390, 30):
                await desk.keeper.submit(probes[begin : begin + 30])
            assert desk.keeper.workshop.jobs["bay-1.1"].timeline.whole is (recent_events > 390)
            late = [Record("bay-1/scale/mass", START_S + 2.0 + n * 0.5, "kg", 5.0 - 2e-3 * n) for n in range(60)]
            answers = await asyncio.gather(*(desk.keeper.submit(late[n : n + 20]) for n in range(0, 60, 20)))
            assert [answer.accepted for answer in answers] == [20, 20, 20]
            views.append((await desk.http.get("/v1/jobs/bay-1.1")).json())
        hand.elapsed_s = 0.0
        async with still_desk(**settings) as desk:
            hand.elapsed_s = 40.0
            views.append((await desk.http.get("/v1/jobs/bay-1.1")).json())
    assert views[0]["charged_kg"] == pytest.approx(0.118, abs=0.02)
    assert views == views[:1] * 4


async def test_while_the_log_cannot_be_read_a_reading_that_needs_it_is_refused_and_changes_nothing(
    still_desk: MakeDesk, hand: HandClock, tmp_path: Path
) -> None:
    async with still_desk(database=tmp_path / "log.db", recent_events=64) as desk:
        await charging(desk, hand)
        await feed(desk, hand, 0, 400)
        log = cast("SqliteLog", desk.keeper.log)
        await log._reader.execute("PRAGMA query_only = OFF")
        await log._writer.execute("ALTER TABLE entry RENAME TO gone")
        before = desk.keeper.workshop
        late = {"n": "bay-1/vent/temperature", "u": "Cel", "t": START_S + 1.0005, "v": 8.0}
        refused = await desk.send(late)
        assert (refused.status_code, refused.json()["type"]) == (503, "/problems/backlog-full")
        assert "nothing was taken" in refused.json()["detail"]
        assert desk.keeper.workshop.position == before.position
        assert desk.keeper.workshop.jobs["bay-1.1"].course == before.jobs["bay-1.1"].course
        await log._writer.execute("ALTER TABLE gone RENAME TO entry")
        assert (await desk.send(late)).json()["accepted"] == 1
        assert desk.keeper.workshop.jobs["bay-1.1"].timeline.most_chunks == 1
