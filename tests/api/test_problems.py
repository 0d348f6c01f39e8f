"""Every row of the table of problems can be met, and its document is as RFC 9457 wants it."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Awaitable, Callable, Mapping
from typing import TYPE_CHECKING
from unittest.mock import patch

import httpx
import pytest

from fillmark.api import documents
from fillmark.api.problems import PROBLEMS
from fillmark.store.log import LogFullError, LogUnavailableError

if TYPE_CHECKING:
    from tests.api.conftest import Desk, MakeDesk, Serve

START_S = 1_800_000_000.0
JSON = {"Content-Type": "application/json"}
Case = Callable[["Desk"], Awaitable[httpx.Response]]


async def broken_disk(desk: Desk, error: Exception) -> httpx.Response:
    with patch.object(desk.keeper.log, "append", side_effect=error):
        return await desk.mass(1.0, START_S)


async def internal_error(desk: Desk) -> httpx.Response:
    with patch.object(documents, "glance_document", side_effect=ZeroDivisionError("a slip")):
        return await desk.http.get("/v1/bays/bay-1/glance")


async def backlog_full(desk: Desk) -> httpx.Response:
    with patch.object(desk.keeper.writer, "_most_entries", 0):
        return await desk.mass(1.0, START_S)


async def stopping(desk: Desk) -> httpx.Response:
    desk.keeper.end_streams()
    return await desk.mass(1.0, START_S)


async def key_reused(desk: Desk) -> httpx.Response:
    await desk.open()
    await desk.act("bay-1.1", "note", key="k", text="a")
    return await desk.act("bay-1.1", "note", key="k", text="b")


async def job_closed(desk: Desk) -> httpx.Response:
    await desk.open()
    await desk.act("bay-1.1", "job.close")
    return await desk.act("bay-1.1", "note", text="b")


async def no_key(desk: Desk) -> httpx.Response:
    await desk.open()
    return await desk.http.post("/v1/jobs/bay-1.1/actions", json={"type": "job.close"})


async def long_key(desk: Desk) -> httpx.Response:
    await desk.open()
    return await desk.act("bay-1.1", "note", key="k" * 300, text="a")


async def no_step(desk: Desk) -> httpx.Response:
    await desk.open()
    return await desk.act("bay-1.1", "step.end")


async def stock_refused(desk: Desk) -> httpx.Response:
    entry = {"type": "return", "container": "C9"}
    return await desk.http.post("/v1/containers", json=entry, headers={"Idempotency-Key": "k"})


async def no_charge(desk: Desk) -> httpx.Response:
    await desk.open()
    return await desk.http.get("/v1/jobs/bay-1.1/label.pdf")


async def no_such_form(desk: Desk) -> httpx.Response:
    await desk.open()
    return await desk.http.get("/v1/jobs/bay-1.1/record.docx")


def post(path: str, content: bytes, headers: Mapping[str, str] = JSON) -> Case:
    return lambda desk: desk.http.post(path, content=content, headers=headers)


def get(path: str, headers: Mapping[str, str] | None = None) -> Case:
    return lambda desk: desk.http.get(path, headers=headers)


CASES: Mapping[str, Case] = {
    "not-json": post("/v1/readings", b"mass = 3"),
    "bad-request": long_key,
    "idempotency-key-missing": no_key,
    "token-required": post("/v1/readings", b"[]"),
    "foreign-origin": post("/v1/readings", b"[]", {**JSON, "Origin": "http://elsewhere.example"}),
    "not-found": get("/v1/nothing"),
    "unknown-job": get("/v1/jobs/bay-1.1"),
    "unknown-container": get("/v1/containers/C9"),
    "unknown-refrigerant": get("/v1/refrigerants/R-999"),
    "nothing-charged": no_charge,
    "method-not-allowed": get("/v1/readings"),
    "not-acceptable": no_such_form,
    "action-refused": no_step,
    "stock-refused": stock_refused,
    "job-closed": job_closed,
    "body-too-large": post("/v1/readings", b" " * 1_048_577),
    "unsupported-media-type": post("/v1/readings", b"m=1", {"Content-Type": "text/csv"}),
    "unknown-host": get("/health", {"Host": "rebound.example"}),
    "invalid-senml": post("/v1/readings", b"[]"),
    "reading-from-the-future": lambda desk: desk.mass(1.0, START_S + 60.0),
    "invalid-field": get("/v1/jobs?limit=many"),
    "idempotency-key-reused": key_reused,
    "property-out-of-range": get("/v1/refrigerants/R-744/saturation?temperature=400"),
    "internal-error": internal_error,
    "not-durable": lambda desk: broken_disk(desk, LogUnavailableError("disk I/O error")),
    "backlog-full": backlog_full,
    "stopping": stopping,
    "storage-full": lambda desk: broken_disk(desk, LogFullError("no room")),
}


@pytest.fixture
async def any_desk(request: pytest.FixtureRequest, make_desk: MakeDesk) -> AsyncIterator[Desk]:
    settings = {"token": "s3cret"} if request.param == "token-required" else {}
    async with make_desk(**settings) as desk:
        yield desk


def test_every_row_has_a_case_and_every_case_a_row() -> None:
    assert set(CASES) == set(PROBLEMS)


@pytest.mark.parametrize(("any_desk", "slug"), [(slug, slug) for slug in PROBLEMS], indirect=["any_desk"])
async def test_every_problem_is_answered_with_its_document(any_desk: Desk, slug: str) -> None:
    response = await CASES[slug](any_desk)
    row, document = PROBLEMS[slug], response.json()
    # RFC 9457 section 3: the media type, and the members type, title, status, detail, instance.
    assert response.headers["content-type"] == "application/problem+json"
    assert (document["type"], document["title"]) == (f"/problems/{slug}", row.title)
    assert response.status_code == document["status"] == row.status
    assert document["instance"] == response.request.url.path
    assert document["detail"][0].islower() or document["detail"][0].isupper() or document["detail"][0].isdigit()
    assert any_desk.app.state.service.refusals.counts[slug] >= 1


async def test_refusals_are_counted_in_health(desk: Desk) -> None:
    for _ in range(3):
        await desk.mass(1.0, START_S + 99.0)
    await desk.http.get("/nowhere")
    assert (await desk.http.get("/health")).json()["refused"] == {"not-found": 1, "reading-from-the-future": 3}


@pytest.mark.parametrize(
    "content",
    [
        b'[{"n":"b/scale/mass","u":"kg","v":NaN}]',
        b'[{"n":"b/scale/mass","u":"kg","v":-Infinity}]',
        b"[" * 100_000,
        b'{"a":' * 50_000,
        b"\xff\xfe",
        b'\xef\xbb\xbf[{"n":"b/scale/mass","u":"kg","v":1}]',
        b'[{"n":"b/scale/mass","u":"\\ud800","v":1}]',
        b"[1" + b"0" * 5000 + b"]",
        b"",
    ],
    ids=["nan", "infinity", "deep-array", "deep-object", "not-utf-8", "bom", "half-character", "long-number", "empty"],
)
async def test_what_is_not_json_is_a_400(desk: Desk, content: bytes) -> None:
    response = await desk.http.post("/v1/readings", content=content, headers=JSON)
    assert (response.status_code, response.json()["type"]) == (400, "/problems/not-json")


async def test_a_number_that_overflows_is_refused(desk: Desk) -> None:
    content = b'[{"n":"b/lamp/x","u":"lm","bv":1e308,"v":1e308}]'
    response = await desk.http.post("/v1/readings", content=content, headers=JSON)
    assert (response.status_code, response.json()["type"]) == (422, "/problems/invalid-senml")
    content = b'[{"n":"b/lamp/x","u":"lm","v":1e999}]'
    response = await desk.http.post("/v1/readings", content=content, headers=JSON)
    assert response.status_code == 422


async def test_a_body_without_a_length_is_read_up_to_the_limit_and_no_further(make_desk: MakeDesk) -> None:
    sent = 0

    async def body() -> AsyncIterator[bytes]:
        nonlocal sent
        for _ in range(100):
            sent += 1
            yield b" " * 100
            await asyncio.sleep(0)

    async with make_desk(body_limit_bytes=1000) as desk:
        response = await desk.http.post("/v1/readings", content=body(), headers=JSON)
    assert (response.status_code, response.json()["accepted"]) == (413, "at most 1000 bytes")


async def test_a_chunked_body_over_the_limit_is_cut_off_on_the_wire(serve: Serve) -> None:
    async with serve(body_limit_bytes=1000) as desk:
        host, port = desk.http.base_url.host, desk.http.base_url.port
        reader, writer = await asyncio.open_connection(host, port)
        writer.write(
            b"POST /v1/readings HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\n"
            b"Transfer-Encoding: chunked\r\n\r\n" + (b"400\r\n" + b" " * 0x400 + b"\r\n")
        )
        answer = await asyncio.wait_for(reader.read(), 5.0)  # no last chunk was sent: the service closes
        writer.close()
    assert answer.startswith(b"HTTP/1.1 413")
    assert b"/problems/body-too-large" in answer
