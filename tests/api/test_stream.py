"""The stream: no change of a stop point is ever missed, a slow client costs nobody anything, a stop ends it."""

from __future__ import annotations

import asyncio
import json
import time
from collections.abc import AsyncIterator
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from fillmark.api import documents

if TYPE_CHECKING:
    import httpx
    from tests.api.conftest import Desk, Serve, Until

Event = dict[str, Any]


@dataclass
class Reader:
    """Reads events as the HTML standard's section 9.2.6 interprets an event stream."""

    lines: AsyncIterator[str]
    comments: list[str] = field(default_factory=list)

    async def next(self) -> Event:
        event: Event = {}
        async for line in self.lines:
            if not line:
                if "data" in event:
                    return event
                continue
            name, _, value = line.partition(":")
            if not name:
                self.comments.append(value.strip())
            else:
                event[name] = value.removeprefix(" ")
        raise EOFError

    async def until(self, name: str) -> list[Event]:
        events = [await self.next()]
        while events[-1]["event"] != name:
            events.append(await self.next())
        return events


def reader(response: httpx.Response) -> Reader:
    return Reader(response.aiter_lines())


def data(event: Event) -> dict[str, Any]:
    value: dict[str, Any] = json.loads(event["data"])
    return value


async def charge(desk: Desk, job: str = "bay-1.1") -> None:
    """Open the wrong valve with the engine running: that raises a stop point at once, and shutting clears it."""
    await desk.act(job, "valve", valve="high", open=True)
    await desk.act(job, "valve", valve="high", open=False)


async def begun(desk: Desk) -> None:
    await desk.open()
    await desk.act("bay-1.1", "engine", running=True)


async def test_a_new_client_gets_the_state_and_then_every_news(serve: Serve) -> None:
    async with serve() as desk:
        await begun(desk)
        async with desk.http.stream("GET", "/v1/jobs/bay-1.1/stream") as response:
            assert response.headers["content-type"].startswith("text/event-stream")
            events = reader(response)
            first = await events.next()
            assert (first["event"], first["id"]) == ("state", "2")
            read = (await desk.http.get("/v1/jobs/bay-1.1")).json()
            assert {**data(first), "now": 0} == {**read, "now": 0}
            await desk.act("bay-1.1", "valve", valve="high", open=True)
            moved, state = await events.until("state")
            assert "id" not in moved
            assert data(moved)["id"] == "high-side-open-while-running"
            assert (data(moved)["position"], data(moved)["after"]) == (3, "unacknowledged active")
            assert state["id"] == "3"
            assert "high-side-open-while-running" in [point["id"] for point in data(state)["active"]]


async def test_a_client_that_was_away_gets_every_change_since_in_order(serve: Serve) -> None:
    async with serve() as desk:
        await begun(desk)
        for _ in range(3):
            await charge(desk)
        journal = desk.keeper.workshop.jobs["bay-1.1"].journal
        job = desk.keeper.workshop.jobs["bay-1.1"]
        wanted = [documents.transition_document(job, moved) for moved in journal if moved.position > 4]
        assert len(wanted) >= 4
        for headers, query in (({"Last-Event-ID": "4"}, ""), ({}, "?after=4")):
            async with desk.http.stream("GET", f"/v1/jobs/bay-1.1/stream{query}", headers=headers) as response:
                events = await reader(response).until("state")
            assert [data(event) for event in events[:-1]] == wanted
            assert events[-1]["id"] == "8"


async def test_resuming_at_any_position_leaves_no_gap(serve: Serve) -> None:
    async with serve() as desk:
        await begun(desk)
        await charge(desk)
        await charge(desk)
        job = desk.keeper.workshop.jobs["bay-1.1"]
        for seen in range(job.position + 1):
            async with desk.http.stream("GET", f"/v1/jobs/bay-1.1/stream?after={seen}") as response:
                events = await reader(response).until("state")
            got = [(data(e)["position"], data(e)["id"], data(e)["after"]) for e in events[:-1]]
            assert got == [(m.position, m.id, str(m.after)) for m in job.journal if m.position > seen]


async def test_a_position_the_log_has_not_reached_gives_the_state_alone(serve: Serve) -> None:
    async with serve() as desk:
        await begun(desk)
        await charge(desk)
        for seen in ("9999", "not-a-number", "-1"):
            async with desk.http.stream("GET", "/v1/jobs/bay-1.1/stream", headers={"Last-Event-ID": seen}) as response:
                assert (await reader(response).next())["event"] == "state"


async def test_a_slow_client_gets_the_newest_state_and_all_changes(serve: Serve) -> None:
    async with serve() as desk:
        await begun(desk)
        host, port = desk.http.base_url.host, desk.http.base_url.port
        slow, writer = await asyncio.open_connection(host, port, limit=4096)
        writer.write(b"GET /v1/jobs/bay-1.1/stream HTTP/1.1\r\nHost: localhost\r\n\r\n")
        await slow.readuntil(b"event: state")
        times = []
        for _ in range(200):  # nobody reads: some megabytes of states would be waiting
            began = time.perf_counter()
            await charge(desk)
            times.append(time.perf_counter() - began)
        job = desk.keeper.workshop.jobs["bay-1.1"]
        assert sorted(times)[len(times) // 2] < 0.1  # the others do not wait for the slow one
        received = bytearray()
        last = f"id: {job.position}\n".encode()
        async with asyncio.timeout(10.0):
            while last not in received:
                received += await slow.read(65536)
        writer.close()
        states = received.count(b"event: state")
        assert states < 300  # states were left out: there were 400
        positions = [
            json.loads(line[6:])["position"]
            for line in received.decode().splitlines()
            if line.startswith('data: {"job"')
        ]
        assert positions == [moved.position for moved in job.journal]


async def test_a_quiet_stream_shows_that_it_lives(serve: Serve, until: Until) -> None:
    async with serve(heartbeat_s=0.05) as desk:
        await begun(desk)
        async with desk.http.stream("GET", "/v1/jobs/bay-1.1/stream") as response:
            events = reader(response)
            await events.next()
            waiting = asyncio.create_task(events.next())
            await until(lambda: events.comments.count("alive") == 2)
            await desk.act("bay-1.1", "note", text="go on")
            await waiting


async def test_a_stop_ends_streams_and_long_polls_at_once(serve: Serve) -> None:
    async with serve() as desk:
        await begun(desk)
        tag = (await desk.http.get("/v1/bays/bay-1/glance")).headers["etag"]
        polling = asyncio.create_task(desk.http.get("/v1/bays/bay-1/glance?wait=30", headers={"If-None-Match": tag}))
        async with desk.http.stream("GET", "/v1/jobs/bay-1.1/stream") as response:
            events = reader(response)
            await events.next()
            await asyncio.sleep(0.05)
            began = time.perf_counter()
            desk.keeper.end_streams()
            try:
                while True:
                    await events.next()
            except EOFError:
                pass
            assert (await polling).status_code == 304
            assert time.perf_counter() - began < 1.0


async def test_an_unknown_job_has_no_stream(desk: Desk) -> None:
    assert (await desk.http.get("/v1/jobs/bay-1.1/stream")).json()["type"] == "/problems/unknown-job"
