"""Many requests share one commit, and nobody is told 2xx before it."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from typing import TYPE_CHECKING, cast

import pytest

from fillmark.store.log import KeptAnswer, LogEntry
from fillmark.store.sqlite import SqliteLog

if TYPE_CHECKING:
    from tests.api.conftest import Desk, Until

START_S = 1_800_000_000.0
REQUESTS = 300


async def test_many_requests_share_few_commits(disk_desk: Desk) -> None:
    answers = await asyncio.gather(*(disk_desk.mass(1.0, START_S + n * 1e-3) for n in range(REQUESTS)))
    assert [answer.json()["accepted"] for answer in answers] == [1] * REQUESTS
    log = cast("SqliteLog", disk_desk.keeper.log)
    assert await log.last_position() == REQUESTS
    assert 1 <= log.transactions <= REQUESTS // 10


async def test_no_answer_before_the_commit_and_the_state_before_the_answer(
    desk: Desk, until: Until, monkeypatch: pytest.MonkeyPatch
) -> None:
    gate = asyncio.Event()
    log = desk.keeper.log
    append = log.append

    async def slow(entries: Sequence[LogEntry], answers: Sequence[KeptAnswer] = ()) -> None:
        await gate.wait()
        await append(entries, answers)

    monkeypatch.setattr(log, "append", slow)
    first = asyncio.create_task(desk.mass(1.0, START_S))
    again = asyncio.create_task(desk.mass(1.0, START_S))
    await until(lambda: desk.keeper.workshop.position == 1)
    assert (await desk.http.get("/health")).json()["pending"] == 1
    assert not first.done()
    assert not again.done()
    gate.set()
    answers = [(await task).json() for task in (first, again)]
    assert sorted((a["accepted"], a["duplicate"]) for a in answers) == [(0, 1), (1, 0)]
    assert await log.last_position() == 1
