"""Readings: counted once, taken as a whole or not at all."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from tests.api.conftest import Desk, HandClock, MakeDesk

START_S = 1_800_000_000.0
MASS: dict[str, Any] = {"n": "bay-1/scale/mass", "u": "kg", "t": START_S, "v": 1.25}


async def counts(desk: Desk, *records: dict[str, Any]) -> tuple[int, int, int]:
    response = await desk.send(*records)
    assert response.status_code == 200, response.text
    body = response.json()
    return body["accepted"], body["duplicate"], body["unassigned"]


async def test_a_reading_without_a_job_is_taken_and_counted_as_unassigned(desk: Desk) -> None:
    assert await counts(desk, MASS) == (1, 0, 1)


async def test_a_reading_of_an_open_job_is_assigned(desk: Desk) -> None:
    await desk.open()
    assert await counts(desk, MASS) == (1, 0, 0)
    view = (await desk.http.get("/v1/jobs/bay-1.1")).json()
    assert view["readings"]["scale/mass"]["value"] == 1.25


async def test_the_same_reading_again_changes_nothing(desk: Desk) -> None:
    await desk.open()
    await counts(desk, MASS)
    before = desk.keeper.workshop
    assert await counts(desk, MASS) == (0, 1, 0)
    assert await counts(desk, {**MASS, "v": 9.0}) == (0, 1, 0)
    assert desk.keeper.workshop is before


async def test_a_pack_with_old_and_new_and_a_repetition_counts_each(desk: Desk) -> None:
    await counts(desk, MASS)
    later = {**MASS, "t": START_S + 1.0}
    assert await counts(desk, MASS, later, later, {**later, "n": "bay-2/scale/mass"}) == (2, 2, 2)


async def test_units_are_converted_once_and_the_log_holds_the_converted(desk: Desk) -> None:
    await desk.open()
    await counts(desk, {**MASS, "u": "g", "v": 1250.0})
    log = (await desk.http.get("/v1/jobs/bay-1.1/log")).json()
    assert log["entries"][-1]["records"] == [{"n": "bay-1/scale/mass", "u": "kg", "t": START_S, "v": 1.25}]


async def test_a_relative_time_is_relative_to_the_services_clock(desk: Desk) -> None:
    # RFC 8428 section 4.5.3: a time below 2**28 counts from now.
    await counts(desk, {"n": "bay-1/scale/mass", "u": "kg", "t": -2.5, "v": 1.0})
    bays = (await desk.http.get("/v1/bays")).json()["bays"]
    assert bays[0]["channels"]["scale/mass"] == {"at": START_S - 2.5, "unit": "kg", "value": 1.0}


async def test_an_action_in_a_pack_works_and_is_counted_once(desk: Desk) -> None:
    await desk.open()
    text = json.dumps({"type": "step.begin", "step": "charging"})
    action = {"n": "bay-1/action", "t": START_S + 1.0, "vs": text}
    assert await counts(desk, action) == (1, 0, 0)
    assert await counts(desk, action) == (0, 1, 0)
    assert (await desk.http.get("/v1/jobs/bay-1.1")).json()["step"] == "charging"


async def test_an_unknown_quantity_goes_to_the_log(desk: Desk) -> None:
    await desk.open()
    record = {"n": "bay-1/lamp/brightness", "u": "lm", "t": START_S, "v": 3.0}
    assert await counts(desk, record) == (1, 0, 0)
    assert (await desk.http.get("/v1/jobs/bay-1.1/log")).json()["entries"][-1]["records"] == [record]


@pytest.mark.parametrize(
    ("bad", "slug", "field"),
    [
        ({**MASS, "n": "bay-2/scale/mass", "v": -3.0}, "invalid-senml", "/1/v"),
        ({**MASS, "n": "bay-2/scale/mass", "u": "lb"}, "invalid-senml", "/1/u"),
        ({**MASS, "n": "mass"}, "invalid-senml", "/1/n"),
        ({**MASS, "n": "fillmark/received"}, "invalid-senml", "/1/n"),
        ({**MASS, "n": "b" * 80 + "/scale/mass"}, "invalid-senml", "/1/n"),
        ({**MASS, "n": "bay-2/scale/mass", "t": -1.6e9}, "invalid-senml", "/1/t"),
        ({"n": "bay-2/scale/mass", "t": START_S}, "invalid-senml", "/1"),
        ({**MASS, "bver": 99}, "invalid-senml", "/1/bver"),
        ({**MASS, "n": "bay-2/scale/mass", "t": START_S + 10.5}, "reading-from-the-future", "/1/t"),
        ({"n": "bay-2/action", "t": START_S, "vs": '{"type":"vent"}'}, "invalid-field", "/1/vs/type"),
        ({"n": "bay-2/action", "t": START_S, "vs": "valve open"}, "invalid-field", "/1/vs"),
        ({"n": "bay-2/action", "t": START_S, "vs": '{"type":"note","text":"\\ud800"}'}, "invalid-senml", "/1/vs"),
        ({"n": "bay-2/action", "t": START_S, "vs": '{"type":"step.end"}'}, "action-refused", "/type"),
    ],
)
async def test_one_bad_record_and_nothing_of_the_pack_is_taken(
    desk: Desk, bad: dict[str, Any], slug: str, field: str
) -> None:
    before = desk.keeper.workshop
    response = await desk.send(MASS, bad)
    problem = response.json()
    assert (problem["type"], problem["field"]) == (f"/problems/{slug}", field), problem
    assert desk.keeper.workshop is before
    assert await counts(desk, MASS) == (1, 0, 1)


async def test_the_field_is_named_as_it_was_sent_also_behind_a_repetition(desk: Desk) -> None:
    await counts(desk, MASS)
    problem = (await desk.send(MASS, MASS, {**MASS, "n": "bay-2/scale/mass", "v": 1e6})).json()
    assert problem["field"] == "/2/v"


async def test_a_reading_from_the_future_says_by_how_much(desk: Desk, hand: HandClock) -> None:
    early = {**MASS, "t": START_S + 75.0}
    problem = (await desk.send(early)).json()
    assert problem["status"] == 422
    assert problem["type"].endswith("/reading-from-the-future")
    assert "75.0 s ahead" in problem["detail"]
    assert "check the clock of the sender" in problem["detail"]
    hand.elapsed_s = 65.0
    assert await counts(desk, early) == (1, 0, 1)


async def test_what_is_older_than_what_is_remembered_is_looked_up_in_the_log(
    make_desk: MakeDesk, hand: HandClock
) -> None:
    async with make_desk(times_in_memory=8) as desk:
        hand.elapsed_s = 100.0
        pack = [{**MASS, "t": START_S + n} for n in range(40)]
        assert await counts(desk, *pack) == (40, 0, 40)
        assert await counts(desk, *pack) == (0, 40, 0)
        between = [{**MASS, "t": START_S + n + 0.5} for n in range(3)]
        assert await counts(desk, *between) == (3, 0, 3)
        assert await counts(desk, *between, *between) == (0, 6, 0)
