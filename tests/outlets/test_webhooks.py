"""Webhooks: in order, at least once, through receivers that are away, refuse, or want no more, and through restarts."""

from __future__ import annotations

import asyncio
import base64
import json
import logging
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path

import httpx
import pytest

from fillmark.outlets.cursors import Cursors, key_of
from fillmark.outlets.feed import Moved, Plain
from fillmark.outlets.settings import WebhookSettings
from fillmark.outlets.webhooks import LONGEST_PAUSE_S, Webhook, message_id

START_S = 1_800_000_000.0
URL = "https://shop.example/hook?key=of-the-shop"
SECRET = "whsec_" + base64.b64encode(bytes(range(32))).decode()
Respond = Callable[[httpx.Request], httpx.Response]


@dataclass
class FakeFeed:
    """A log of changes; it stops when everything in it was looked at."""

    log: list[Moved] = field(default_factory=list)
    position: int = 0
    on_disk: int | None = None
    stopped: bool = False
    time_s: float = START_S

    def add(self, position: int, count: int = 1) -> None:
        for number in range(count):
            document: Plain = {"job": "bay-1.1", "position": position, "id": "aim-reached"}
            self.log.append(Moved(position, number, "bay-1", START_S, document))
        self.position = position

    def now_s(self) -> float:
        return self.time_s

    def bays(self) -> dict[str, int]:
        return {"bay-1": self.position}

    def glance(self, bay: str) -> Plain:
        return {"bay": bay}

    def moved(self, after: int, up_to: int) -> list[Moved]:
        return [moved for moved in self.log if after < moved.position <= up_to]

    async def durable(self) -> int:
        return self.position if self.on_disk is None else self.on_disk

    async def news(self, timeout_s: float) -> bool:
        del timeout_s
        self.stopped = True
        return True


@dataclass
class Receiver:
    """Answers by a list; when it is used up, 204."""

    answers: list[int | BaseException] = field(default_factory=list)
    requests: list[httpx.Request] = field(default_factory=list)

    def __call__(self, request: httpx.Request) -> httpx.Response:
        self.requests.append(request)
        answer = self.answers.pop(0) if self.answers else 204
        if isinstance(answer, BaseException):
            raise answer
        return httpx.Response(answer)

    @property
    def positions(self) -> list[int]:
        return [json.loads(request.content)["data"]["position"] for request in self.requests]


@dataclass
class Bench:
    feed: FakeFeed = field(default_factory=FakeFeed)
    receiver: Receiver = field(default_factory=Receiver)
    slept: list[float] = field(default_factory=list)
    path: Path | None = None

    async def run(self, give_up_s: float = 86_400.0) -> Cursors:
        """One run of the service, with what is on the disk before it."""
        cursors = Cursors(self.path)
        hook = WebhookSettings.model_validate({"url": URL, "secret": SECRET, "give_up_s": give_up_s})
        transport = httpx.MockTransport(self.receiver)
        self.feed.stopped = False
        await Webhook(hook, cursors, transport=transport, sleep=self._sleep).run(self.feed)
        return cursors

    async def _sleep(self, seconds: float) -> None:
        self.slept.append(seconds)
        self.feed.time_s += seconds
        await asyncio.sleep(0)


@pytest.fixture
async def bench(tmp_path: Path) -> Bench:
    """A receiver that has been known since position 10."""
    made = Bench(path=tmp_path / "log.sqlite.webhooks.json")
    made.feed.add(10)
    await made.run()
    assert made.receiver.requests == []
    return made


async def test_what_moved_after_the_first_start_comes_in_order(bench: Bench) -> None:
    bench.feed.add(12)
    bench.feed.add(15, count=2)
    cursors = await bench.run()
    assert bench.receiver.positions == [12, 15, 15]
    assert len({request.headers["webhook-id"] for request in bench.receiver.requests}) == 3
    assert cursors.get(URL) == 15
    await bench.run()
    assert len(bench.receiver.requests) == 3


async def test_the_body_and_the_headers(bench: Bench) -> None:
    bench.feed.add(12)
    await bench.run()
    (request,) = bench.receiver.requests
    assert json.loads(request.content) == {
        "type": "stop_point.moved", "timestamp": "2027-01-15T08:00:00Z",
        "data": {"bay": "bay-1", "job": "bay-1.1", "position": 12, "id": "aim-reached"},
    }  # fmt: skip
    assert str(request.url) == URL
    assert request.headers["content-type"] == "application/json"
    assert request.headers["webhook-id"] == message_id(bench.feed.log[-1])


@pytest.mark.parametrize("trouble", [503, 500, 429, 408, httpx.ConnectError("refused"), httpx.ReadTimeout("slow")])
async def test_a_receiver_that_is_away_is_tried_again_later_and_later(bench: Bench, trouble: int | Exception) -> None:
    bench.feed.add(12)
    bench.receiver.answers = [trouble] * 9
    await bench.run()
    assert bench.receiver.positions == [12] * 10
    assert len({request.headers["webhook-id"] for request in bench.receiver.requests}) == 1
    assert all(0.5 * min(2.0**n, LONGEST_PAUSE_S) <= wait <= LONGEST_PAUSE_S for n, wait in enumerate(bench.slept))
    assert bench.slept[-1] > 10.0 * bench.slept[0]


async def test_what_was_not_delivered_before_a_restart_is_delivered_after_it(bench: Bench) -> None:
    bench.feed.add(12)
    bench.feed.add(13)
    bench.receiver.answers = [204, asyncio.CancelledError()]  # the service is killed here
    with pytest.raises(asyncio.CancelledError):
        await bench.run()
    await bench.run()
    assert bench.receiver.positions == [12, 13, 13]
    first, second = (request.headers["webhook-id"] for request in bench.receiver.requests[1:])
    assert first == second


async def test_half_of_an_entry_is_delivered_again_rather_than_lost(bench: Bench) -> None:
    bench.feed.add(12, count=2)
    bench.receiver.answers = [204, asyncio.CancelledError()]  # the service is killed here
    with pytest.raises(asyncio.CancelledError):
        await bench.run()
    await bench.run()
    assert bench.receiver.positions == [12, 12, 12, 12]


@pytest.mark.parametrize("refusal", [400, 401, 404, 302])
async def test_a_refusal_is_said_and_the_next_one_does_not_wait(
    bench: Bench, refusal: int, caplog: pytest.LogCaptureFixture
) -> None:
    bench.feed.add(12)
    bench.feed.add(13)
    bench.receiver.answers = [refusal]
    cursors = await bench.run()
    assert (bench.receiver.positions, bench.slept, cursors.get(URL)) == ([12, 13], [], 13)
    assert f"answer {refusal}" in caplog.text
    assert "of-the-shop" not in caplog.text


async def test_gone_ends_it_until_the_next_start(bench: Bench) -> None:
    bench.feed.add(12)
    bench.feed.add(13)
    bench.receiver.answers = [410]
    await bench.run()
    assert bench.receiver.positions == [12]


async def test_a_message_that_is_too_old_is_given_up(bench: Bench, caplog: pytest.LogCaptureFixture) -> None:
    bench.feed.add(12)
    bench.feed.add(13)
    bench.receiver.answers = [503] * 6
    with caplog.at_level(logging.ERROR):
        await bench.run(give_up_s=5.0)
    assert bench.receiver.positions[0] == 12
    assert bench.receiver.positions[-1] == 13
    assert "too old" in caplog.text


async def test_only_what_is_on_the_disk_is_told(bench: Bench) -> None:
    bench.feed.add(12)
    bench.feed.add(13)
    bench.feed.on_disk = 12

    async def news(timeout_s: float) -> bool:
        raise AssertionError(timeout_s)

    bench.feed.news = news  # type: ignore[method-assign]  # it must not be asked while something is not on the disk
    calls = 0

    async def durable() -> int:
        nonlocal calls
        calls += 1
        bench.feed.stopped = calls > 2
        return 12

    bench.feed.durable = durable  # type: ignore[method-assign]  # a disk that stands
    await bench.run()
    assert bench.receiver.positions == [12]


async def test_a_shorter_log_is_another_log(bench: Bench) -> None:
    bench.feed = FakeFeed()
    bench.feed.add(3)
    cursors = await bench.run()
    assert (bench.receiver.requests, cursors.get(URL)) == ([], 3)


async def test_the_file_holds_no_address(bench: Bench) -> None:
    assert bench.path is not None
    text = bench.path.read_text(encoding="utf-8")
    assert json.loads(text) == {key_of(URL): 10}
    assert "shop" not in text


@pytest.mark.parametrize("text", ["", "[]", '{"x": "y"}', '{"x": true}', "\xff"])
async def test_a_file_that_cannot_be_read_begins_with_now(bench: Bench, text: str) -> None:
    assert bench.path is not None
    bench.path.write_text(text, encoding="latin-1")
    bench.feed.add(12)
    cursors = await bench.run()
    assert (bench.receiver.requests, cursors.get(URL)) == ([], 12)


async def test_a_disk_that_refuses_costs_no_message(bench: Bench, caplog: pytest.LogCaptureFixture) -> None:
    assert bench.path is not None
    (bench.path.parent / (bench.path.name + ".new")).mkdir()
    bench.feed.add(12)
    cursors = await bench.run()
    assert (bench.receiver.positions, cursors.get(URL)) == ([12], 12)
    assert "may come twice" in caplog.text
