"""What the uplink does with each answer, and an outage of hours."""

from __future__ import annotations

import asyncio
import itertools
import json
import random
import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager, suppress
from dataclasses import dataclass, field

import httpx
import pytest
import respx

from fillmark.wire.senml import Record, decode
from fillmark_agent.async_spool import AsyncSpool
from fillmark_agent.backoff import Backoff
from fillmark_agent.device import Pack, Sleep
from fillmark_agent.uplink import Pace, Uplink

SERVICE = "http://service.test:8000"
URL = f"{SERVICE}/v1/readings"
MakePacks = Callable[[int, int], list[Pack]]
MakeUplink = Callable[..., Uplink]
FUTURE = "https://fillmark.test/problems/reading-from-the-future"


@dataclass
class FakeService:
    """Takes packs whole or not at all, as the service does, and remembers every arrival."""

    bad: Callable[[Record], bool] = lambda _: False
    latest_s: float = float("inf")
    log: list[tuple[str, float]] = field(default_factory=list)
    seen: set[tuple[str, float]] = field(default_factory=set)
    sizes: list[tuple[int, int]] = field(default_factory=list)

    def __call__(self, request: httpx.Request) -> httpx.Response:
        assert request.headers["content-type"] == "application/senml+json"
        records = decode(request.content, now_s=0.0)
        self.sizes.append((len(records), len(request.content)))
        if any(record.time_s > self.latest_s for record in records):
            return httpx.Response(422, json={"type": FUTURE, "detail": "ahead of the clock"})
        if any(self.bad(record) for record in records):
            return httpx.Response(422, json={"type": "/problems/bad", "detail": "no such thing"})
        keys = [(record.name, record.time_s) for record in records]
        new = [key for key in dict.fromkeys(keys) if key not in self.seen]
        self.log += new
        self.seen.update(new)
        return httpx.Response(200, json={"accepted": len(new), "duplicate": len(keys) - len(new), "unassigned": 0})


def keys(packs: list[Pack]) -> list[tuple[str, float]]:
    return [(record.name, record.time_s) for pack in packs for record in pack]


@pytest.fixture
async def make_uplink(async_spool: AsyncSpool, sleep: Sleep, elapsed: Callable[[], float]) -> AsyncIterator[MakeUplink]:
    async with httpx.AsyncClient(base_url=SERVICE, trust_env=False) as client:

        def make(pace: Pace | None = None) -> Uplink:
            backoff = Backoff(rng=random.Random(1))
            return Uplink(async_spool, client, pace or Pace(), backoff, sleep=sleep, elapsed=elapsed)

        yield make


@asynccontextmanager
async def running(uplink: Uplink) -> AsyncIterator[None]:
    task = asyncio.create_task(uplink.run())
    try:
        yield
    finally:
        task.cancel()
        with suppress(asyncio.CancelledError):
            await task


async def until(condition: Callable[[], bool]) -> None:
    async with asyncio.timeout(5):
        while not condition():  # noqa: ASYNC110 - the condition is of many kinds, events would hide it
            await asyncio.sleep(0.001)


@respx.mock
async def test_what_is_acknowledged_leaves_the_spool(
    async_spool: AsyncSpool, make_uplink: MakeUplink, make_packs: MakePacks
) -> None:
    service, packs, uplink = FakeService(), make_packs(20, 3), make_uplink()
    respx.post(URL).mock(side_effect=service)
    await async_spool.append(packs)
    async with running(uplink):
        await until(async_spool.empty.is_set)
        await async_spool.append(packs)
        await until(async_spool.empty.is_set)
    assert service.log == keys(packs)
    assert (uplink.counts.accepted, uplink.counts.duplicate) == (60, 60)


@pytest.mark.parametrize(
    "failure",
    [
        httpx.ConnectError("refused"), httpx.ReadTimeout("slow"), httpx.RemoteProtocolError("cut off"),
        *(httpx.Response(status) for status in (301, 401, 403, 404, 408, 425, 429, 500, 502, 503, 504)),
        httpx.Response(200, text="<html>hotspot</html>"),
    ],
    ids=str,
)  # fmt: skip
@respx.mock
async def test_a_failure_costs_nothing_and_is_tried_again(
    async_spool: AsyncSpool,
    make_uplink: MakeUplink,
    make_packs: MakePacks,
    slept: list[float],
    failure: httpx.Response | Exception,
) -> None:
    service, packs, uplink = FakeService(), make_packs(5, 1), make_uplink()
    route = respx.post(URL).mock(side_effect=itertools.repeat(failure))
    await async_spool.append(packs)
    async with running(uplink):
        await until(lambda: uplink.counts.failures >= 8)
        assert async_spool.stats.records == 5
        assert uplink.problem
        waits = slept[:8]
        assert all(wait <= min(10.0, 0.25 * 2**n) for n, wait in enumerate(waits))
        assert len(set(waits)) == 8
        route.side_effect = service
        await until(async_spool.empty.is_set)
    assert service.log == keys(packs)
    assert not uplink.problem
    assert async_spool.stats.refused == 0


@respx.mock
async def test_a_success_makes_the_next_wait_small_again(
    async_spool: AsyncSpool, make_uplink: MakeUplink, make_packs: MakePacks, slept: list[float]
) -> None:
    service, uplink = FakeService(), make_uplink()
    route = respx.post(URL).mock(return_value=httpx.Response(503))
    await async_spool.append(make_packs(1, 1))
    async with running(uplink):
        await until(lambda: uplink.counts.failures >= 12)
        route.side_effect = service
        await until(async_spool.empty.is_set)
        before = len(slept)
        route.side_effect = itertools.repeat(httpx.Response(500))
        await async_spool.append(make_packs(1, 1))
        failures = uplink.counts.failures
        await until(lambda: uplink.counts.failures > failures)
        waits = [wait for wait in slept[before:] if wait != uplink.pace.linger_s]
    assert waits[0] <= 0.25


@respx.mock
async def test_retry_after_is_waited_out(
    async_spool: AsyncSpool, make_uplink: MakeUplink, make_packs: MakePacks, slept: list[float]
) -> None:
    service, uplink = FakeService(), make_uplink()
    answers = iter([httpx.Response(503, headers={"retry-after": "42"}), httpx.Response(429)])
    respx.post(URL).mock(side_effect=lambda request: next(answers, None) or service(request))
    await async_spool.append(make_packs(1, 1))
    async with running(uplink):
        await until(async_spool.empty.is_set)
    assert slept[0] == 42.0
    assert slept[1] <= 0.5


@pytest.mark.parametrize("each", [1, 7])
@respx.mock
async def test_a_bad_record_is_found_among_many_and_only_it_is_set_apart(
    async_spool: AsyncSpool, make_uplink: MakeUplink, make_packs: MakePacks, each: int
) -> None:
    packs = make_packs(60, each)
    bad = {keys(packs)[17], keys(packs)[18], keys(packs)[-1]}
    service, uplink = FakeService(bad=lambda record: (record.name, record.time_s) in bad), make_uplink()
    respx.post(URL).mock(side_effect=service)
    await async_spool.append(packs)
    async with running(uplink):
        await until(async_spool.empty.is_set)
    assert service.log == [key for key in keys(packs) if key not in bad]
    apart = async_spool._spool.refused()
    assert {(r.name, r.time_s) for item in apart for r in decode(item.record, now_s=0.0)} == bad
    assert {(item.status, item.type, item.problem) for item in apart} == {(422, "/problems/bad", "no such thing")}
    assert async_spool.stats.refused == 3


@pytest.mark.parametrize("status", [409, 422])
@respx.mock
async def test_an_action_that_is_refused_does_not_take_readings_with_it(
    async_spool: AsyncSpool,
    make_uplink: MakeUplink,
    make_packs: MakePacks,
    status: int,
    caplog: pytest.LogCaptureFixture,
) -> None:
    reading = make_packs(1, 2)[0]
    pack = (reading[0], Record("bay-1/action", reading[0].time_s, text='{"type":"step.end"}'), reading[1])

    def answer(request: httpx.Request) -> httpx.Response:
        if b"step.end" in request.content:
            return httpx.Response(status, json={"type": "/problems/out-of-order", "detail": "no step has begun"})
        return service(request)

    service, uplink = FakeService(), make_uplink()
    respx.post(URL).mock(side_effect=answer)
    await async_spool.append([pack])
    async with running(uplink):
        await until(async_spool.empty.is_set)
    assert service.log == keys([reading])
    assert "no step has begun" in caplog.text
    assert [json.loads(item.record)[0]["n"] for item in async_spool._spool.refused()] == ["bay-1/action"]


@respx.mock
async def test_a_body_over_the_limit_is_sent_in_parts(
    async_spool: AsyncSpool, make_uplink: MakeUplink, make_packs: MakePacks
) -> None:
    service, packs, uplink = FakeService(), make_packs(4, 25), make_uplink()
    respx.post(URL).mock(
        side_effect=lambda request: httpx.Response(413) if len(request.content) > 700 else service(request)
    )
    await async_spool.append(packs)
    async with running(uplink):
        await until(async_spool.empty.is_set)
    assert service.log == keys(packs)
    assert async_spool.stats.refused == 0


@respx.mock
async def test_readings_from_the_future_wait_while_others_go_on(
    async_spool: AsyncSpool, make_uplink: MakeUplink, make_packs: MakePacks, caplog: pytest.LogCaptureFixture
) -> None:
    packs, uplink = make_packs(40, 1), make_uplink(Pace(future_retry_s=0.1))
    uplink.elapsed = time.monotonic
    ahead = [(Record("bay-2/scale/mass", 1_800_009_000.0 + n, unit="kg", value=1.0),) for n in range(40)]
    service = FakeService(latest_s=1_800_005_000.0)
    respx.post(URL).mock(side_effect=service)
    mixed = [pack for pair in zip(ahead, packs, strict=True) for pack in pair]
    await async_spool.append(mixed[:60])
    async with running(uplink):
        await until(lambda: len(service.log) == 30)
        requests = len(service.sizes)
        await async_spool.append(mixed[60:])
        await until(lambda: len(service.log) == 40)
        assert len(service.sizes) < requests + 40
        await until(lambda: async_spool.stats.records == 40)
        service.latest_s = float("inf")
        await until(async_spool.empty.is_set)
    assert sorted(service.log) == sorted(keys(mixed))
    assert async_spool.stats.refused == 0
    assert caplog.text.count("set the clocks") == 1


@respx.mock
async def test_a_bad_record_beside_one_from_the_future_costs_neither_of_the_others(
    async_spool: AsyncSpool, make_uplink: MakeUplink, make_packs: MakePacks
) -> None:
    (good,) = make_packs(1, 1)
    bad = Record("bay-1/low/pressure", good[0].time_s, unit="Pa", value=-1e9)
    ahead = Record("bay-1/scale/mass", 1_800_009_000.0, unit="kg", value=1.0)
    uplink = make_uplink(Pace(future_retry_s=0.05))
    uplink.elapsed = time.monotonic
    service = FakeService(bad=lambda record: record.name == bad.name, latest_s=1_800_005_000.0)

    def bad_first(request: httpx.Request) -> httpx.Response:
        """Name the bad record before the one from the future when a pack has both."""
        if any(record.name == bad.name for record in decode(request.content, now_s=0.0)):
            return httpx.Response(422, json={"type": "/problems/bad", "detail": "no such thing"})
        return service(request)

    respx.post(URL).mock(side_effect=bad_first)
    await async_spool.append([(good[0], bad, ahead)])
    async with running(uplink):
        await until(lambda: len(service.sizes) >= 4)
        assert async_spool.stats.records == 3
        service.latest_s = float("inf")
        await until(async_spool.empty.is_set)
    assert service.log == keys([good, (ahead,)])
    assert async_spool.stats.refused == 1


@respx.mock
async def test_an_outage_of_hours_arrives_in_order_exactly_once(
    async_spool: AsyncSpool, make_uplink: MakeUplink, make_packs: MakePacks, slept: list[float]
) -> None:
    """50,000 readings: ten channels at 1 Hz for 83 minutes. One in ten answers is lost on its way back."""
    packs, uplink, service, lose = make_packs(10_000, 5), make_uplink(), FakeService(), random.Random(3)

    def answer(request: httpx.Request) -> httpx.Response:
        taken = service(request)
        return httpx.Response(502) if lose.random() < 0.1 else taken

    route = respx.post(URL).mock(side_effect=httpx.ConnectError("down"))
    async with running(uplink):
        for begin in range(0, 10_000, 1000):
            await async_spool.append(packs[begin : begin + 1000])
        await until(lambda: uplink.counts.failures > 0)
        route.side_effect = answer
        await until(async_spool.empty.is_set)
    assert service.log == keys(packs)
    assert len(service.sizes) <= 130
    assert max(size for size, _ in service.sizes) <= 500
    assert max(length for _, length in service.sizes) <= 256 * 1024
    assert slept.count(uplink.pace.linger_s) <= 1


@respx.mock
async def test_batches_keep_to_the_limit_of_bytes(
    async_spool: AsyncSpool, make_uplink: MakeUplink, make_packs: MakePacks
) -> None:
    service, packs, uplink = FakeService(), make_packs(100, 2), make_uplink(Pace(batch_bytes=2048))
    respx.post(URL).mock(side_effect=service)
    await async_spool.append(packs)
    async with running(uplink):
        await until(async_spool.empty.is_set)
    assert service.log == keys(packs)
    assert max(length for _, length in service.sizes) <= 2048


@respx.mock
async def test_live_samples_are_gathered_between_two_requests(
    async_spool: AsyncSpool, make_uplink: MakeUplink, make_packs: MakePacks, slept: list[float]
) -> None:
    service, packs, uplink = FakeService(), make_packs(30, 1), make_uplink(Pace(linger_s=0.07))
    respx.post(URL).mock(side_effect=service)
    async with running(uplink):
        for pack in packs:
            await async_spool.append([pack])
            await until(async_spool.empty.is_set)
    assert service.log == keys(packs)
    assert slept.count(0.07) >= len(service.sizes) - 1
