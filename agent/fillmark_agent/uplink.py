"""Sends the spool to the service, oldest first, and takes out of it what the service has acknowledged.

Oldest first, also after an outage: a valve that was opened comes before the mass that it let through, and the log stays
in the order in which things happened. Live readings wait behind a backlog, so the backlog goes out in large packs
without a pause: an hour of a bay takes seconds.

A retry is always safe, because a reading is identified by channel and time.
"""

from __future__ import annotations

import asyncio
import json
import logging
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import httpx

from fillmark.wire.senml import MEDIA_TYPE
from fillmark_agent.answers import Answer, Verdict, read_answer
from fillmark_agent.async_spool import AsyncSpool
from fillmark_agent.backoff import Backoff
from fillmark_agent.device import Sleep
from fillmark_agent.spool import Refused, Row, SpoolError

_LOG = logging.getLogger(__name__)
_PATH = "v1/readings"
_FOREVER = float("inf")
_TELL_FIRST = 20
_TELL_EVERY = 100


@dataclass(frozen=True, slots=True)
class Pace:
    """How the uplink sends.

    Attributes:
        batch_records: most records in a request.
        batch_bytes: most bytes in a request.
        linger_s: real seconds to gather samples between two requests when there is no backlog.
        future_retry_s: real seconds until a reading from the future is tried again.
    """

    batch_records: int = 500
    batch_bytes: int = 256 * 1024
    linger_s: float = 0.05
    future_retry_s: float = 5.0


@dataclass(slots=True)
class UplinkCounts:
    """What this process has sent."""

    accepted: int = 0
    duplicate: int = 0
    unassigned: int = 0
    refused: int = 0
    requests: int = 0
    failures: int = 0


class _LaterError(Exception):
    """Nothing is known to be taken; send again."""

    def __init__(self, problem: str, retry_after_s: float | None = None) -> None:
        super().__init__(problem)
        self.retry_after_s = retry_after_s or 0.0


class _FutureError(Exception):
    """A record within one row is ahead of the service's clock."""


@dataclass(slots=True)
class Uplink:
    """Drains a spool into a service.

    Attributes:
        spool: where the packs are.
        client: with the service's address as base URL, and the token.
        problem: why nothing gets through, None while it does.
    """

    spool: AsyncSpool
    client: httpx.AsyncClient
    pace: Pace = field(default_factory=Pace)
    backoff: Backoff = field(default_factory=Backoff)
    sleep: Sleep = asyncio.sleep
    elapsed: Callable[[], float] = time.monotonic
    counts: UplinkCounts = field(default_factory=UplinkCounts)
    problem: str | None = None
    _held_from_s: float = _FOREVER
    _held_until: float = 0.0

    async def run(self) -> None:
        """Send until cancelled. Never ends by itself."""
        while True:
            try:
                full = await self._round()
            except (_LaterError, SpoolError) as error:
                await self._wait_after(error)
            else:
                if not full:
                    await self.sleep(self.pace.linger_s)

    async def _wait_after(self, error: _LaterError | SpoolError) -> None:
        self.counts.failures += 1
        if self.problem != str(error):
            _LOG.warning(
                "nothing gets through to %s: %s; %d readings wait in the spool",
                self.client.base_url, error, self.spool.stats.records,
            )  # fmt: skip
        self.problem = str(error)
        asked_s = error.retry_after_s if isinstance(error, _LaterError) else 0.0
        await self.sleep(max(asked_s, self.backoff.next_s()))

    async def _round(self) -> bool:
        """Send one batch, or wait for something to send. False when there is time to gather more samples."""
        if self._held_from_s < _FOREVER and self.elapsed() >= self._held_until:
            self._held_from_s = _FOREVER
        self.spool.fresh.clear()
        rows = await self.spool.peek(self.pace.batch_records, self.pace.batch_bytes, self._held_from_s)
        if not rows:
            await self._idle()
            return True
        await self._deliver(rows)
        return 2 * sum(row.records for row in rows) >= self.pace.batch_records

    async def _idle(self) -> None:
        wait_s = None if self._held_from_s == _FOREVER else max(self._held_until - self.elapsed(), 0.0)
        try:
            async with asyncio.timeout(wait_s):
                await self.spool.fresh.wait()
        except TimeoutError:
            return

    async def _deliver(self, rows: Sequence[Row]) -> None:
        """Send rows; on a refusal send the halves, down to the row that is to blame."""
        rows = [row for row in rows if row.latest_s < self._held_from_s]
        if not rows:
            return
        answer = await self._post(_joined(rows))
        if answer.verdict is Verdict.TAKEN:
            await self.spool.settle(rows)
        elif len(rows) > 1:
            await self._deliver(rows[: len(rows) // 2])
            await self._deliver(rows[len(rows) // 2 :])
        elif answer.verdict is Verdict.FUTURE:
            self._hold(rows[0], answer)
        else:
            await self._isolate(rows[0], answer)

    async def _isolate(self, row: Row, answer: Answer) -> None:
        """Find the bad records in a row, set them apart, and let the row go once its others are taken."""
        refused: list[Refused] = []
        try:
            await self._sift(json.loads(row.body), answer, refused)
        except _FutureError:
            self._hold(row, answer)
            return
        await self.spool.settle((row,), refused)
        for item in refused:
            self._tell(item)

    async def _sift(self, records: list[Any], answer: Answer, refused: list[Refused]) -> None:
        if answer.verdict is Verdict.FUTURE:
            raise _FutureError
        if answer.verdict is Verdict.TAKEN:
            return
        if len(records) == 1:
            refused.append(Refused(answer.status, answer.type, answer.problem, _dumped(records)))
            return
        middle = len(records) // 2
        for half in (records[:middle], records[middle:]):
            await self._sift(half, await self._post(_dumped(half).encode()), refused)

    async def _post(self, body: bytes) -> Answer:
        self.counts.requests += 1
        try:
            response = await self.client.post(_PATH, content=body, headers={"content-type": MEDIA_TYPE})
        except httpx.HTTPError as error:
            raise _LaterError(str(error) or type(error).__name__) from error
        answer = read_answer(response)
        if answer.verdict is Verdict.LATER:
            raise _LaterError(f"{answer.status} {answer.problem}", answer.retry_after_s)
        if answer.verdict is Verdict.TAKEN:
            self.counts.accepted += answer.accepted
            self.counts.duplicate += answer.duplicate
            self.counts.unassigned += answer.unassigned
        self._works()
        return answer

    def _works(self) -> None:
        if self.problem is not None:
            _LOG.info("%s answers again; %d readings to send", self.client.base_url, self.spool.stats.records)
        self.problem = None
        self.backoff.reset()

    def _hold(self, row: Row, answer: Answer) -> None:
        if self._held_until == 0.0:
            _LOG.warning(
                "the service calls a reading one from the future (%s): readings from then on wait and are tried "
                "again; set the clocks of both machines", answer.problem,
            )  # fmt: skip
        self._held_from_s = min(self._held_from_s, row.latest_s)
        self._held_until = self.elapsed() + self.pace.future_retry_s

    def _tell(self, item: Refused) -> None:
        self.counts.refused += 1
        if self.counts.refused <= _TELL_FIRST or self.counts.refused % _TELL_EVERY == 0:
            _LOG.warning(
                "refused by the service (%s %s): %s; set apart in the spool: %s",
                item.status, item.type.rpartition("/")[2], item.problem, item.record,
            )  # fmt: skip


def _joined(rows: Sequence[Row]) -> bytes:
    """One pack of all. The spool's packs are resolved and have no base fields, so they can be put side by side."""
    return b"[" + b",".join(row.body[1:-1] for row in rows) + b"]"


def _dumped(records: list[Any]) -> str:
    return json.dumps(records, separators=(",", ":"), ensure_ascii=False)
