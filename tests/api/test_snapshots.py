"""A start from a snapshot shows the same bytes as a start that folds the whole log."""

from __future__ import annotations

import logging
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from fillmark.api.settings import Settings
from fillmark.api.snapshots import NOW, version_of
from fillmark.engine.job import Job
from fillmark.engine.workshop import Workshop, recalling
from fillmark.store import snapshot_rows
from fillmark.store.log import Snapshot

if TYPE_CHECKING:
    from tests.api.conftest import Desk, HandClock, MakeDesk, Until

START_S = 1_800_000_000.0
PATHS = (
    "/v1/jobs",
    "/v1/bays",
    "/v1/containers",
    "/v1/containers/C7",
    "/v1/stock/2027?gwp=AR4",
    "/v1/bays/bay-2/glance",
)
JOBS = ("bay-1.1", "bay-1.2", "bay-1.3", "bay-2.1")
END_S = 200.0


async def shown(desk: Desk, hand: HandClock) -> list[bytes]:
    """Everything that can be asked, at one moment."""
    hand.elapsed_s = END_S
    found = []
    for path in (*PATHS, *(f"/v1/jobs/{job}{what}" for job in JOBS for what in ("", "/log?limit=5000"))):
        answer = await desk.http.get(path)
        assert answer.status_code == 200, (path, answer.text)
        found.append(answer.content)
    return found


async def draw(desk: Desk, hand: HandClock, job: str, begins_s: float) -> None:
    """A step of charging from C7, with the scale's readings a little out of order and a stop point on the way."""
    bay = job.partition(".")[0]
    hand.elapsed_s = begins_s
    await desk.act(job, "step.begin", step="charging")
    await desk.act(job, "container.mount", container="C7", net="3 kg")
    await desk.mass(4.0, START_S + begins_s, bay)
    await desk.act(job, "valve", valve="low", open=True)
    hand.elapsed_s = begins_s + 15.0
    for n in (1, 2, 4, 3, *range(5, 30)):
        await desk.mass(4.0 - 2e-3 * n, START_S + begins_s + n / 2, bay)
    hand.elapsed_s = begins_s + 25.0
    desk.keeper.ticker._fire()


async def a_day(desk: Desk, hand: HandClock) -> None:
    """Two jobs closed in one bay and one open, another open elsewhere, and the stock's book."""
    key = {"Idempotency-Key": "bought"}
    bought = {"type": "purchase", "container": "C7", "net": "5 kg", "refrigerant": "R-134a"}
    assert (await desk.http.post("/v1/containers", json=bought, headers=key)).status_code == 200
    for number, job in enumerate(JOBS[:2]):
        hand.elapsed_s = 2.0 + number * 60.0
        await desk.open()
        await draw(desk, hand, job, 5.0 + number * 60.0)
        await desk.act(job, "job.close")
    hand.elapsed_s = 125.0
    await desk.open()
    await desk.open("bay-2")
    await draw(desk, hand, "bay-2.1", 130.0)
    await desk.mass(3.999, START_S + 80.25)  # of the job that was closed last


def forget(path: Path) -> None:
    with closing(sqlite3.connect(path)) as log:
        log.execute("DROP TABLE snapshot")


def kept(path: Path) -> dict[str, Snapshot]:
    with closing(sqlite3.connect(path)) as log:
        found = [snapshot_rows.unpacked(*row) for row in log.execute("SELECT * FROM snapshot")]
    return {snapshot.name: snapshot for snapshot in found if snapshot is not None}


def cut(workshop: Workshop) -> Workshop:
    """Without the events that a snapshot does not hold."""

    def without(job: Job) -> Job:
        return replace(job, timeline=replace(job.timeline.cut(0), settled=0, whole=False))

    return replace(workshop, jobs={each: without(job) for each, job in workshop.jobs.items()})


async def test_views_are_the_same_bytes_with_and_without_a_snapshot(
    still_desk: MakeDesk, hand: HandClock, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    path = tmp_path / "log.db"
    async with still_desk(database=path) as desk:
        await a_day(desk, hand)
        before, workshop = await shown(desk, hand), desk.keeper.workshop
        assert sum(len(job.journal) for job in workshop.jobs.values()) > 3
    assert set(kept(path)) == {NOW, "job bay-1.1"}
    caplog.set_level(logging.INFO)
    for folded in (0, workshop.position, 0):
        caplog.clear()
        hand.elapsed_s = 0.0
        async with still_desk(database=path) as desk:
            assert f"folded {folded} of {workshop.position} entries" in caplog.text
            assert await shown(desk, hand) == before
            assert cut(desk.keeper.workshop) == cut(workshop)
            assert (await desk.mass(0.0, START_S + 6.0)).json()["duplicate"] == 1
        if folded == 0:
            forget(path)


async def test_a_job_goes_on_after_a_snapshot_as_it_would_have_without(
    still_desk: MakeDesk, hand: HandClock, tmp_path: Path
) -> None:
    """What comes next, and what comes late: the history that the snapshot lacks is in the log."""
    views = []
    for with_snapshot in (True, False):
        path = tmp_path / f"{with_snapshot}.db"
        hand.elapsed_s = 0.0
        async with still_desk(database=path) as desk:
            await a_day(desk, hand)
        if not with_snapshot:
            forget(path)
        hand.elapsed_s = 0.0
        async with still_desk(database=path) as desk:
            hand.elapsed_s = 160.0
            await desk.mass(3.94, START_S + 159.0, "bay-2")
            await desk.send({"n": "bay-2/low/pressure", "u": "Pa", "t": START_S + 159.0, "v": 3.2e5})
            await desk.mass(3.999, START_S + 130.25, "bay-2")
            await desk.mass(3.98, START_S + 81.25)
            views.append(await shown(desk, hand))
    assert views[0] == views[1]


async def test_after_a_kill_what_the_snapshot_holds_and_the_rest_of_the_log_are_the_state(
    still_desk: MakeDesk, hand: HandClock, tmp_path: Path, until: Until
) -> None:
    """The files as they lie on the disk while the service runs are what a kill leaves behind."""
    path, left = tmp_path / "log.db", tmp_path / "left.db"
    async with still_desk(database=path) as desk:
        desk.keeper.snapshots.every = 40
        await a_day(desk, hand)
        before, position = await shown(desk, hand), desk.keeper.workshop.position
        await until(lambda: desk.keeper.snapshots._making is None or desk.keeper.snapshots._making.done())
        for suffix in ("", "-wal"):
            shutil.copy(f"{path}{suffix}", f"{left}{suffix}")
    assert 0 < kept(left)[NOW].position < position
    for _ in range(2):
        hand.elapsed_s = 0.0
        async with still_desk(database=left) as desk:
            assert await shown(desk, hand) == before
        forget(left)


Change = Callable[[Snapshot], snapshot_rows.Row]


def rotten(snapshot: Snapshot) -> snapshot_rows.Row:
    name, version, position, body, digest = snapshot_rows.packed(snapshot)
    return name, version, position, bytes([body[0] ^ 1]) + body[1:], digest


def changed(**fields: object) -> Change:
    return lambda snapshot: snapshot_rows.packed(replace(snapshot, **fields))  # type: ignore[arg-type]  # any of them


DAMAGES: list[tuple[str, Change]] = [
    (NOW, rotten),
    (NOW, changed(text='{"":"os.system","of":"true"}')),
    (NOW, changed(text="[1,2,3,4,5]")),
    (NOW, changed(position=3)),
    (NOW, changed(position=100_000)),
    (NOW, changed(version="another program")),
    ("job bay-1.1", rotten),
    ("job bay-1.1", changed(text="[]")),
    ("job bay-1.1", changed(version="another program")),
]


async def test_a_snapshot_that_does_not_fit_is_passed_over_and_made_anew(
    still_desk: MakeDesk, hand: HandClock, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    path = tmp_path / "log.db"
    async with still_desk(database=path) as desk:
        await a_day(desk, hand)
        before, position = await shown(desk, hand), desk.keeper.workshop.position
    whole = kept(path)
    caplog.set_level(logging.INFO)
    for name, damage in DAMAGES:
        with closing(sqlite3.connect(path)) as log:
            log.execute("REPLACE INTO snapshot VALUES (?, ?, ?, ?, ?)", damage(whole[name]))
            log.commit()
        caplog.clear()
        hand.elapsed_s = 0.0
        async with still_desk(database=path) as desk:
            assert f"folded {position} of {position} entries" in caplog.text
            assert await shown(desk, hand) == before
        assert kept(path) == whole


async def test_a_snapshot_made_while_history_is_fetched_forgets_as_usual(still_desk: MakeDesk, tmp_path: Path) -> None:
    settings = {"database": tmp_path / "log.db", "recent_events": 64}
    async with still_desk(**settings) as desk:
        await desk.open()
        desk.keeper.workshop = recalling(desk.keeper.workshop, "bay-1.1")
    assert kept(tmp_path / "log.db")[NOW].position == 1
    async with still_desk(**settings) as desk:
        assert desk.keeper.workshop.jobs["bay-1.1"].timeline.most_chunks == 1


async def test_a_disk_that_takes_no_snapshot_costs_nothing_but_the_next_start(
    still_desk: MakeDesk, tmp_path: Path, caplog: pytest.LogCaptureFixture, until: Until
) -> None:
    path = tmp_path / "log.db"
    async with still_desk(database=path) as desk:
        desk.keeper.snapshots.every = 5
        with closing(sqlite3.connect(path)) as other:
            other.execute("DROP TABLE snapshot")
        await desk.open()
        for n in range(8):
            assert (await desk.mass(1.0, START_S + n)).json()["accepted"] == 1
        await until(lambda: "no snapshot was made" in caplog.text)
        assert (await desk.http.get("/health")).json()["status"] == "ok"
    async with still_desk(database=path) as desk:
        assert desk.keeper.workshop.position == 9


def test_a_version_is_of_the_program_and_what_it_is_told_to_keep() -> None:
    few, more = Settings(recent_events=64), Settings(recent_events=128)
    assert version_of(few) == version_of(few)
    assert version_of(few) != version_of(more)
