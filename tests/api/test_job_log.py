"""The log of a job: pageable, and as a stream it replays to the same bytes."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from fillmark.api import schemas
from fillmark.engine import view
from fillmark.engine.job import Job
from fillmark.intake.replay import replay
from fillmark.wire import senml
from fillmark.wire.clock import Clock

if TYPE_CHECKING:
    from tests.api.conftest import Desk, HandClock, MakeDesk, Until

START_S = 1_800_000_000.0
STREAM = Path(__file__).parents[2] / "demo_streams" / "minibus-can-swap.senml.jsonl"


def text_of(job: Job) -> str:
    return json.dumps([view.job_view(job), [str(moved) for moved in job.journal], job.wake_at_s])


async def exported(desk: Desk, job: str) -> list[str]:
    answer = await desk.http.get(f"/v1/jobs/{job}/log", headers={"Accept": "application/x-ndjson"})
    assert answer.headers["content-type"] == "application/x-ndjson"
    return answer.text.splitlines()


async def play(desk: Desk, hand: HandClock, until_s: float) -> None:
    """Send the lines of a recorded stream as they were recorded, with the clock at their time."""
    begun = None
    for line in STREAM.read_text().splitlines():
        records: list[dict[str, Any]] = json.loads(line)
        newest = max(record["t"] for record in records)
        begun = newest if begun is None else begun
        if newest - begun > until_s:
            return
        shift = START_S - begun
        hand.elapsed_s = max(hand.elapsed_s, newest - begun)
        desk.keeper.ticker._fire()
        answer = await desk.send(*({**record, "t": round(record["t"] + shift, 6)} for record in records))
        assert answer.status_code == 200, answer.text


async def test_pages_lead_through_the_whole_log(desk: Desk) -> None:
    await desk.open("bay-2")
    await desk.open()
    for n in range(7):
        await desk.mass(1.0, START_S + n)
        await desk.mass(1.0, START_S + n, "bay-2")
    path, positions = "/v1/jobs/bay-1.1/log?limit=3", []
    while path:
        page = (await desk.http.get(path)).json()
        schemas.LogPage.model_validate(page)
        positions += [entry["position"] for entry in page["entries"]]
        path = page["next"]
    assert positions == [2, *range(3, 17, 2)]


async def test_a_jobs_log_ends_with_the_job_and_begins_with_its_opening(desk: Desk, hand: HandClock) -> None:
    await desk.open()
    await desk.act("bay-1.1", "job.close")
    hand.elapsed_s = 5.0
    await desk.open()
    await desk.mass(1.0, START_S + 1.0)
    first = (await desk.http.get("/v1/jobs/bay-1.1/log")).json()
    second = (await desk.http.get("/v1/jobs/bay-1.2/log")).json()
    assert [entry["position"] for entry in first["entries"]] == [1, 2]
    assert [entry["position"] for entry in second["entries"]] == [3, 4]


async def test_an_exported_charge_replays_to_the_same_bytes(desk: Desk, hand: HandClock) -> None:
    await play(desk, hand, 545.0)
    job = desk.keeper.workshop.jobs["bay-1.1"]
    assert job.journal  # something has happened
    lines = await exported(desk, job.id)
    again = list(replay(lines))[-1]
    assert text_of(again.jobs[job.id]) == text_of(job)
    assert again.position == job.position


async def test_ticks_are_exported_and_not_made_up(make_desk: MakeDesk, until: Until) -> None:
    # Sixty times as fast: the three seconds after which a silent scale is stale are a twentieth.
    async with make_desk(clock=Clock(wall=lambda: START_S, speed=60.0)) as desk:
        await desk.open("bay-9")
        await desk.open()
        await desk.act("bay-1.1", "step.begin", step="charging")
        await desk.act("bay-1.1", "container.mount", container="C1", net="340 g")
        now = desk.app.state.service.clock.now_s
        for n in range(5):
            await desk.mass(1.0, round(now() - 1.0 + n / 10, 3))
        await until(lambda: any(moved.id == "reading-stale" for moved in desk.keeper.workshop.jobs["bay-1.1"].journal))
        job = desk.keeper.workshop.jobs["bay-1.1"]
        lines = await exported(desk, job.id)
    ticks = [line for line in lines if '"bay-1/tick"' in line]
    assert ticks
    again = list(replay(lines))[-1]
    assert text_of(again.jobs[job.id]) == text_of(job)
    # The silence is seen by the ticks alone: without them the replay would not know of it.
    without = list(replay(line for line in lines if line not in ticks))[-1]
    assert not any(moved.id == "reading-stale" for moved in without.jobs[job.id].journal)


async def test_a_later_job_of_a_busy_bay_replays_alone(desk: Desk, hand: HandClock) -> None:
    await desk.open("bay-2")
    await desk.open()
    closing = {"n": "bay-1/action", "t": START_S + 2.0, "vs": '{"type":"job.close"}'}
    opening = {
        "n": "bay-1/action",
        "t": START_S + 3.0,
        "vs": json.dumps(
            {
                "type": "job.open",
                "circuit": {"refrigerant": "R-1234yf", "charge_min": "480 g", "charge_max": "520 g"},
                "scale": {"resolution": "1 g"},
            }
        ),
    }
    hand.elapsed_s = 4.0
    assert (await desk.send(closing, opening)).status_code == 200
    await desk.act("bay-1.2", "step.begin", step="charging")
    await desk.mass(1.0, START_S + 3.5, "bay-2")
    await desk.mass(2.0, START_S + 3.5)
    job = desk.keeper.workshop.jobs["bay-1.2"]
    lines = await exported(desk, job.id)
    assert text_of(list(replay(lines))[-1].jobs["bay-1.2"]) == text_of(job)


async def test_every_line_is_a_senml_pack_with_its_arrival_first(desk: Desk) -> None:
    await desk.open()
    await desk.mass(1.0, START_S - 7.0)
    lines = (await desk.http.get("/v1/jobs/bay-1.1/log?format=stream")).text.splitlines()
    for line in lines:
        records = senml.decode(line, now_s=0.0)
        assert (records[0].name, records[0].value, records[0].unit) == ("fillmark/received", START_S, "s")
    assert (await desk.http.get("/v1/jobs/bay-1.1/log?format=yaml")).status_code == 422


@pytest.mark.parametrize("accept", ["application/json", "*/*", ""])
async def test_json_is_the_default(desk: Desk, accept: str) -> None:
    await desk.open()
    answer = await desk.http.get("/v1/jobs/bay-1.1/log", headers={"Accept": accept})
    assert answer.headers["content-type"] == "application/json"
