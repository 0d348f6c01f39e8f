"""The glance: one flat object, cheap to ask for, and there at once when something is new."""

from __future__ import annotations

import asyncio
import time
from typing import TYPE_CHECKING

from fillmark.api import schemas

if TYPE_CHECKING:
    from tests.api.conftest import Desk

START_S = 1_800_000_000.0
PATH = "/v1/bays/bay-1/glance"


async def test_an_unknown_bay_has_nulls(desk: Desk) -> None:
    body = (await desk.http.get(PATH)).json()
    assert schemas.Glance.model_validate(body).job is None
    assert body["charged_kg"] is None
    assert not any(isinstance(value, (dict, list)) for value in body.values())


async def test_an_open_job_is_shown_and_a_closed_one_no_more(desk: Desk) -> None:
    await desk.open()
    assert (await desk.http.get(PATH)).json()["job"] == "bay-1.1"
    await desk.act("bay-1.1", "job.close")
    assert (await desk.http.get(PATH)).json()["job"] is None


async def test_the_tag_holds_while_nothing_is_new(desk: Desk) -> None:
    tags = [(await desk.http.get(PATH)).headers["etag"]]
    await desk.open()
    tags.append((await desk.http.get(PATH)).headers["etag"])
    await desk.open("bay-2")
    assert (await desk.http.get(PATH)).headers["etag"] == tags[-1]
    unchanged = await desk.http.get(PATH, headers={"If-None-Match": f'"x", {tags[-1]}'})
    assert (unchanged.status_code, unchanged.content, unchanged.headers["etag"]) == (304, b"", tags[-1])
    await desk.mass(1.0, START_S)
    changed = await desk.http.get(PATH, headers={"If-None-Match": tags[-1]})
    assert changed.status_code == 200
    assert len({*tags, changed.headers["etag"]}) == 3


async def test_a_long_poll_ends_with_the_news(desk: Desk) -> None:
    await desk.open()
    tag = (await desk.http.get(PATH)).headers["etag"]
    waiting = asyncio.create_task(desk.http.get(f"{PATH}?wait=20", headers={"If-None-Match": tag}))
    await asyncio.sleep(0.05)
    await desk.open("bay-2")
    await asyncio.sleep(0.02)
    assert not waiting.done()
    began = time.perf_counter()
    await desk.mass(1.0, START_S)
    answer = await waiting
    assert (answer.status_code, answer.json()["position"]) == (200, 3)
    assert time.perf_counter() - began < 1.0


async def test_a_long_poll_without_news_ends_in_time(desk: Desk) -> None:
    tag = (await desk.http.get(PATH)).headers["etag"]
    began = time.perf_counter()
    answer = await desk.http.get(f"{PATH}?wait=0.1", headers={"If-None-Match": tag})
    assert answer.status_code == 304
    assert 0.09 <= time.perf_counter() - began < 1.0
    assert (await desk.http.get(f"{PATH}?wait=31")).status_code == 422


async def test_a_tag_of_another_run_is_no_match(desk: Desk) -> None:
    position = (await desk.http.get(PATH)).headers["etag"].rpartition("-")[2]
    answer = await desk.http.get(PATH, headers={"If-None-Match": f'W/"00000000-{position}'})
    assert answer.status_code == 200


async def test_bays_show_what_was_heard_also_without_a_job(desk: Desk) -> None:
    await desk.send(
        {"n": "bay-2/scale/mass", "u": "kg", "t": START_S, "v": 3.5},
        {"n": "bay-2/scale/stable", "t": START_S, "vb": False},
        {"n": "bay-2/scale/mass/fault", "t": START_S, "vs": "overload: take it off"},
    )
    await desk.mass(9.9, START_S - 5.0, "bay-2")  # late: what is shown stays
    bays = schemas.BayList.model_validate((await desk.http.get("/v1/bays")).json()).bays
    assert [(b.bay, b.open_job, b.last_job) for b in bays] == [("bay-2", None, None)]
    assert bays[0].channels["scale/mass"].value == 3.5
    assert bays[0].channels["scale/stable"].value is False
    assert bays[0].channels["scale/mass/fault"].value == "overload: take it off"
