"""Webhooks: every change of a stop point is POSTed to whoever asked for it, signed, in order, at least once.

* Only what is on the disk is sent: after a power cut a position can be given again, and a cursor beyond it would skip.
* A receiver that does not answer, or answers 408, 425, 429 or 5xx, is tried again, later and later, until the message
  is too old. Across a restart too: the log is the queue.
* Any other answer than 2xx is a refusal: trying the same again cannot help, and the next message must not wait for it.
  410 says that nobody wants more: that receiver rests until the next start.
* The time in the signature is the world's, not the service's clock, because the receiver compares it with its own.
"""

from __future__ import annotations

import asyncio
import datetime as dt
import enum
import hashlib
import json
import logging
import random
import time
from collections.abc import Awaitable, Callable

import httpx

from fillmark.outlets.cursors import Cursors
from fillmark.outlets.feed import Feed, Moved
from fillmark.outlets.settings import WebhookSettings, secret_bytes
from fillmark.outlets.signature import signed_headers

_LOG = logging.getLogger(__name__)
TIMEOUT_S = 10.0
FIRST_PAUSE_S = 1.0
LONGEST_PAUSE_S = 60.0
LOOK_EVERY_S = 30.0
_LATER = frozenset({408, 425, 429})


class _Answer(enum.Enum):
    TAKEN = enum.auto()
    LATER = enum.auto()
    REFUSED = enum.auto()
    GONE = enum.auto()


class Webhook:
    """One receiver."""

    def __init__(
        self,
        hook: WebhookSettings,
        cursors: Cursors,
        *,
        transport: httpx.AsyncBaseTransport | None = None,
        sleep: Callable[[float], Awaitable[object]] = asyncio.sleep,
        wall: Callable[[], float] = time.time,
    ) -> None:
        self._hook = hook
        self._key = secret_bytes(hook.secret.get_secret_value())
        self._cursors = cursors
        self._transport = transport
        self._sleep = sleep
        self._wall = wall
        self._rng = random.Random()
        self.name = f"webhook to {httpx.URL(hook.url).host}"

    async def run(self, feed: Feed) -> None:
        """Deliver until the service stops, or until the receiver wants no more."""
        cursor = self._cursors.get(self._hook.url)
        if cursor is None or cursor > feed.position:  # a new receiver, or another log
            cursor = await feed.durable()
            await self._cursors.put(self._hook.url, cursor)
        async with httpx.AsyncClient(timeout=TIMEOUT_S, transport=self._transport) as http:
            while not feed.stopped:
                up_to = await feed.durable()
                waiting = feed.moved(cursor, up_to)
                for index, moved in enumerate(waiting):
                    if await self._delivered(http, feed, moved) is _Answer.GONE:
                        _LOG.warning("%s answers 410 Gone; it gets nothing more until the next start", self.name)
                        return
                    if index + 1 == len(waiting) or waiting[index + 1].position > moved.position:
                        await self._cursors.put(self._hook.url, moved.position)
                cursor = max(cursor, up_to)
                if feed.position == up_to:
                    await feed.news(LOOK_EVERY_S)

    async def _delivered(self, http: httpx.AsyncClient, feed: Feed, moved: Moved) -> _Answer:
        pause_s = FIRST_PAUSE_S
        while True:
            answer, said = await self._attempt(http, moved)
            if answer is _Answer.REFUSED:
                _LOG.error("%s refuses %s: %s", self.name, message_id(moved), said)
            if answer is not _Answer.LATER:
                return answer
            if feed.now_s() - moved.at_s > self._hook.give_up_s:
                _LOG.error("%s: %s is too old and is given up: %s", self.name, message_id(moved), said)
                return _Answer.REFUSED
            _LOG.info("%s: %s; trying again", self.name, said)
            await self._sleep(pause_s * self._rng.uniform(0.5, 1.0))
            pause_s = min(2.0 * pause_s, LONGEST_PAUSE_S)

    async def _attempt(self, http: httpx.AsyncClient, moved: Moved) -> tuple[_Answer, str]:
        body = message(moved)
        headers = {
            "content-type": "application/json",
            "user-agent": "fillmark",
            **signed_headers(self._key, message_id(moved), int(self._wall()), body),
        }
        try:
            answer = await http.post(self._hook.url, content=body, headers=headers)
        except (httpx.HTTPError, OSError) as error:
            return _Answer.LATER, f"no answer ({type(error).__name__})"
        return _meaning(answer.status_code), f"answer {answer.status_code}"


def _meaning(status: int) -> _Answer:
    if 200 <= status < 300:
        return _Answer.TAKEN
    if status == 410:
        return _Answer.GONE
    return _Answer.LATER if status in _LATER or status >= 500 else _Answer.REFUSED


def message_id(moved: Moved) -> str:
    """The same for every attempt at this change, also after a restart; another one for every other change."""
    identity = f"{moved.document['job']}|{moved.position}|{moved.number}|{moved.at_s!r}"
    return "msg_" + hashlib.sha256(identity.encode()).hexdigest()[:26]


def message(moved: Moved) -> bytes:
    """The body: type, timestamp and data, as Standard Webhooks recommends."""
    at = dt.datetime.fromtimestamp(moved.at_s, dt.UTC).isoformat().replace("+00:00", "Z")
    document = {"type": "stop_point.moved", "timestamp": at, "data": {"bay": moved.bay, **moved.document}}
    return json.dumps(document, separators=(",", ":"), ensure_ascii=False, allow_nan=False).encode()
