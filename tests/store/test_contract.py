"""What every log promises, whatever it is made of."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from fillmark.store.log import Identity, KeptAnswer, Log, LogConflictError, LogEntry, Snapshot

MakeEntry = Callable[..., LogEntry]


async def everything(log: Log) -> list[LogEntry]:
    return await log.read(0, 1000)


async def test_an_empty_log_has_nothing(log: Log) -> None:
    assert await log.last_position() == 0
    assert await everything(log) == []
    assert await log.answer("k") is None
    assert await log.known([Identity("bay-1/scale/mass", 1.0)]) == set()


async def test_what_is_appended_is_read_back_to_the_last_bit(log: Log, entry: MakeEntry) -> None:
    entries = [entry(1), entry(2, "bay-2"), LogEntry(3, 1_800_000_000.123457, "bay-1")]
    await log.append(entries)
    assert await everything(log) == [replace(one, identities=()) for one in entries]
    assert await log.last_position() == 3


async def test_text_of_any_kind_comes_back(log: Log) -> None:
    pack = '[{"n":"b/action","t":1,"vs":"15 °C ≤ “x” \\u0000 𝄞 \n"}]\0end'
    await log.append([LogEntry(1, 2.0, "b", pack)])
    assert (await everything(log))[0].pack == pack


async def test_reading_is_pageable_and_by_bay(log: Log, entry: MakeEntry) -> None:
    await log.append([entry(n, f"bay-{n % 2}") for n in range(1, 8)])
    assert [e.position for e in await log.read(2, 3)] == [3, 4, 5]
    assert [e.position for e in await log.read(0, 2, "bay-1")] == [1, 3]
    assert [e.position for e in await log.read(3, 9, "bay-1")] == [5, 7]
    assert await log.read(7, 9) == []
    assert await log.read(0, 9, "elsewhere") == []


@pytest.mark.parametrize("positions", [(2,), (0,), (1, 3), (2, 1), (1, 1)])
async def test_positions_have_no_gap_and_a_refusal_changes_nothing(
    log: Log, entry: MakeEntry, positions: tuple[int, ...]
) -> None:
    batch = [entry(position, "bay-1", f"bay-1/c{index}/mass") for index, position in enumerate(positions)]
    with pytest.raises(LogConflictError):
        await log.append(batch)
    assert await everything(log) == []
    await log.append([entry(1)])
    assert await log.last_position() == 1


async def test_a_reading_is_there_once(log: Log, entry: MakeEntry) -> None:
    first = entry(1)
    await log.append([first])
    again = replace(entry(2), identities=first.identities)
    with pytest.raises(LogConflictError):
        await log.append([again])
    assert await log.last_position() == 1
    assert await log.known([first.identities[0], Identity("other/scale/mass", first.identities[0].time_s)]) == set(
        first.identities
    )


async def test_a_refused_batch_leaves_none_of_its_entries(log: Log, entry: MakeEntry) -> None:
    good, twice = entry(1), replace(entry(2), identities=entry(1).identities)
    with pytest.raises(LogConflictError):
        await log.append([good, twice], [KeptAnswer("k", "f", 1, 200, "{}")])
    assert await everything(log) == []
    assert await log.known(good.identities) == set()
    assert await log.answer("k") is None
    await log.append([good])


async def test_actions_of_one_moment_are_told_apart_by_their_text(log: Log) -> None:
    one, other = Identity("bay-1/action", 5.0, "aa"), Identity("bay-1/action", 5.0, "bb")
    await log.append([LogEntry(1, 6.0, "bay-1", "[]", (one, other))])
    assert await log.known([one, other, Identity("bay-1/action", 5.0, "cc")]) == {one, other}


async def test_an_answer_is_kept_with_its_entry(log: Log, entry: MakeEntry) -> None:
    kept = KeptAnswer("key-1", "f1", 2, 201, '{"job":"bay-1.1"}')
    await log.append([entry(1), entry(2)], [kept])
    assert await log.answer("key-1") == kept
    with pytest.raises(LogConflictError):
        await log.append([entry(3)], [replace(kept, position=3)])
    assert await log.last_position() == 2


async def test_times_that_differ_in_the_last_bit_are_two_readings(log: Log) -> None:
    times = (1_800_000_000.1, 1_800_000_000.1 + 2.4e-7)
    assert times[0] != times[1]
    await log.append([LogEntry(1, 1.0, "b", "[]", tuple(Identity("b/scale/mass", t) for t in times))])
    assert len(await log.known([Identity("b/scale/mass", t) for t in times])) == 2


async def test_a_newer_snapshot_takes_the_place_of_the_one_before(log: Log) -> None:
    old, new = Snapshot("now", "v1", 3, "état 𝄞"), Snapshot("now", "v1", 5, "x" * 100_000)
    other = Snapshot("job b.1", "v1", 5, "{}")
    assert await log.snapshots("v1") == []
    await log.keep([old])
    assert await log.snapshots("v1") == [old]
    await log.keep([new, other])
    assert sorted(await log.snapshots("v1"), key=lambda one: one.name) == [other, new]
    assert await log.snapshots("v2") == []


async def test_snapshots_of_another_version_are_forgotten(log: Log) -> None:
    await log.keep([Snapshot("now", "v1", 3, "a"), Snapshot("job b.1", "v1", 3, "b")])
    await log.keep([Snapshot("now", "v2", 4, "c")])
    assert await log.snapshots("v1") == []
    assert await log.snapshots("v2") == [Snapshot("now", "v2", 4, "c")]


async def test_snapshots_are_no_part_of_the_log(log: Log, entry: MakeEntry) -> None:
    await log.keep([Snapshot("now", "v1", 3, "a")])
    assert await everything(log) == []
    assert await log.last_position() == 0
    await log.append([entry(1)])
    assert await log.is_gapless()
