"""Jobs and actions."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING, Any

import pytest

from fillmark.api import schemas

if TYPE_CHECKING:
    from tests.api.conftest import Desk, HandClock

START_S = 1_800_000_000.0


async def test_a_job_is_opened_found_and_read(desk: Desk) -> None:
    opened = await desk.open()
    assert opened.status_code == 201
    assert opened.headers["location"] == "/v1/jobs/bay-1.1"
    read = await desk.http.get(opened.headers["location"])
    assert schemas.JobView.model_validate(read.json()).aim_kg == pytest.approx(0.5)
    assert read.json() == opened.json()
    assert read.json()["now"] == START_S
    assert read.json()["safety"]["class"] == "A1"
    assert any("eye" in caution.lower() for caution in read.json()["safety"]["cautions"])


async def test_the_bay_may_stand_in_the_body(desk: Desk) -> None:
    opened = await desk.http.post(
        "/v1/jobs",
        json={
            "bay": "bay-7",
            "circuit": {"refrigerant": "r134a", "charge_min_kg": 0.48, "charge_max_kg": 0.52},
            "scale": {"resolution_kg": 0.001},
        },
    )
    assert opened.headers["location"] == "/v1/jobs/bay-7.1"


@pytest.mark.parametrize(
    ("query", "fields", "field"),
    [
        ("", {}, "/bay"),
        ("?bay=a%2Fb", {}, "/bay"),
        ("?bay=fillmark", {}, "/bay"),
        ("?bay=bay-1", {"bay": "bay-2"}, "/bay"),
        ("?bay=bay-1", {"bay": 3}, "/bay"),
        ("?bay=bay-1", {"type": "note"}, "/type"),
        ("?bay=bay-1", {"circuit": None}, "/circuit"),
        ("?bay=bay-1", {"aim": "700 g"}, ""),
        ("?bay=bay-1", {"colour": "red"}, "/colour"),
        ("?bay=bay-1", {"scale": {"resolution": "-1 g"}}, "/scale/resolution"),
        ("?bay=bay-1", {"scale": {"resolution": "1 fathom"}}, "/scale/resolution"),
        ("?bay=bay-1", {"circuit": {"refrigerant": "R-999", "charge_min": "400 g", "charge_max": "500 g"}},
         "/circuit/refrigerant"),
    ],
)  # fmt: skip
async def test_what_cannot_be_opened_names_the_field(
    desk: Desk, query: str, fields: dict[str, Any], field: str
) -> None:
    body = {
        "circuit": {"refrigerant": "R-134a", "charge_min": "480 g", "charge_max": "520 g"},
        "scale": {"resolution": "1 g"},
        **fields,
    }
    response = await desk.http.post(f"/v1/jobs{query}", json=body)
    problem = response.json()
    assert (problem["status"], problem["type"]) == (422, "/problems/invalid-field"), problem
    assert problem.get("field", "").startswith(field)
    assert desk.keeper.workshop.position == 0


async def test_a_bay_has_one_open_job(desk: Desk) -> None:
    await desk.open()
    problem = (await desk.open()).json()
    assert (problem["status"], problem["code"]) == (409, "job-open")
    assert (await desk.open("bay-2")).status_code == 201


async def test_jobs_are_listed_newest_first_and_filtered(desk: Desk, hand: HandClock) -> None:
    await desk.open()
    hand.elapsed_s = 10.0
    await desk.act("bay-1.1", "job.close")
    await desk.open("bay-2")
    await desk.open("bay-1")

    async def listed(query: str) -> list[str]:
        answer = (await desk.http.get(f"/v1/jobs{query}")).json()
        return [row.job for row in schemas.JobList.model_validate(answer).jobs]

    assert await listed("") == ["bay-1.2", "bay-2.1", "bay-1.1"]
    assert await listed("?bay=bay-1") == ["bay-1.2", "bay-1.1"]
    assert await listed("?open=true&bay=bay-1") == ["bay-1.2"]
    assert await listed("?open=false") == ["bay-1.1"]
    assert await listed("?limit=1") == ["bay-1.2"]


async def test_an_action_is_told_its_place_and_time(desk: Desk) -> None:
    await desk.open()
    answer = await desk.act("bay-1.1", "step.begin", step="charging")
    body = schemas.ActionAnswer.model_validate(answer.json())
    assert (body.job, body.position, body.step) == ("bay-1.1", 2, "charging")


async def test_actions_of_one_instant_keep_their_order_by_time(desk: Desk) -> None:
    await desk.open()
    answers = [(await desk.act("bay-1.1", "note", text=str(n))).json()["at"] for n in range(5)]
    assert answers == sorted(set(answers))
    assert answers[-1] - START_S < 1e-4
    notes = (await desk.http.get("/v1/jobs/bay-1.1")).json()["notes"]
    assert [note["text"] for note in notes] == list("01234")


async def test_the_same_key_gives_the_same_answer_and_no_second_effect(desk: Desk, hand: HandClock) -> None:
    await desk.open()
    first = await desk.act("bay-1.1", "note", key="k1", text="leak at the service port")
    hand.elapsed_s = 5.0
    await desk.mass(1.0, START_S + 4.0)
    again = await desk.act("bay-1.1", "note", key="k1", text="leak at the service port")
    assert (again.status_code, again.content) == (first.status_code, first.content)
    assert len((await desk.http.get("/v1/jobs/bay-1.1")).json()["notes"]) == 1


async def test_the_same_key_for_something_else_is_refused(desk: Desk) -> None:
    await desk.open()
    await desk.act("bay-1.1", "note", key="k1", text="one")
    problem = (await desk.act("bay-1.1", "note", key="k1", text="two")).json()
    assert (problem["status"], problem["type"]) == (422, "/problems/idempotency-key-reused")
    assert len((await desk.http.get("/v1/jobs/bay-1.1")).json()["notes"]) == 1


async def test_a_retry_of_the_closing_gets_the_answer_of_the_closing(desk: Desk) -> None:
    await desk.open()
    first = await desk.act("bay-1.1", "job.close", key="bye")
    assert first.status_code == 200
    assert (await desk.act("bay-1.1", "job.close", key="bye")).content == first.content
    problem = (await desk.act("bay-1.1", "note", text="late")).json()
    assert (problem["status"], problem["type"]) == (409, "/problems/job-closed")


async def test_opening_with_a_key_can_be_retried(desk: Desk) -> None:
    headers = {"Idempotency-Key": "open-1"}
    body = {
        "circuit": {"refrigerant": "R-134a", "charge_min": "480 g", "charge_max": "520 g"},
        "scale": {"resolution": "1 g"},
    }
    first = await desk.http.post("/v1/jobs?bay=b", json=body, headers=headers)
    again = await desk.http.post("/v1/jobs?bay=b", json=body, headers=headers)
    assert (first.status_code, again.status_code) == (201, 201)
    assert (first.content, first.headers["location"]) == (again.content, again.headers["location"])
    assert desk.keeper.workshop.position == 1


async def test_two_at_once_under_one_key_have_one_effect(desk: Desk) -> None:
    await desk.open()
    answers = await asyncio.gather(*(desk.act("bay-1.1", "note", key="same", text="x") for _ in range(10)))
    assert len({answer.content for answer in answers}) == 1
    assert desk.keeper.workshop.position == 2


async def test_an_action_needs_a_key_a_job_and_a_type(desk: Desk) -> None:
    await desk.open()
    path = "/v1/jobs/bay-1.1/actions"
    missing = (await desk.http.post(path, json={"type": "job.close"})).json()
    assert (missing["status"], missing["field"]) == (400, "/headers/Idempotency-Key")
    assert (await desk.act("bay-9.9", "note", text="x")).json()["type"] == "/problems/unknown-job"
    assert (await desk.act("bay-1.1", "job.open")).json()["field"] == "/type"
    assert (await desk.act("bay-1.1", "sing")).json()["field"] == "/type"
    assert (await desk.act("bay-1.1", "purge", mass="-4 g")).json()["field"] == "/mass"
    refused = (await desk.act("bay-1.1", "step.end")).json()
    assert (refused["status"], refused["code"]) == (409, "no-step")
    long = await desk.act("bay-1.1", "note", key="k" * 300, text="x")
    assert long.json()["field"] == "/headers/Idempotency-Key"
    assert desk.keeper.workshop.position == 1
