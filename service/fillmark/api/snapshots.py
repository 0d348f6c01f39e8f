"""Snapshots: what was folded from the log, kept beside it from time to time, so that a start need not fold all of it.

The log stays the only truth. A snapshot is made only of what is on the disk, by one version of the program for itself;
one that is missing, damaged or of another version is passed over, and the log is folded instead.

* NOW holds the open job of each bay, its last closed one, the bays and the stock. It is made anew each time.
* JOB… holds a job that takes no more readings. It never changes, so it is written once.
"""

from __future__ import annotations

import asyncio
import hashlib
import logging
import platform
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import fillmark
from fillmark.api import frozen
from fillmark.api.bay import Bay
from fillmark.api.frozen import FrozenError
from fillmark.api.settings import Settings
from fillmark.api.writer import Writer
from fillmark.engine.job import Job
from fillmark.engine.workshop import Workshop
from fillmark.refrigerants import facade
from fillmark.stock.ledger import Ledger
from fillmark.store.log import Log, Snapshot

_LOG = logging.getLogger(__name__)
EVERY_EVENTS = 20_000
"""A few seconds of folding. A snapshot costs some milliseconds."""

LAST_CHUNKS = 2
"""What is kept of the recent events of a job: enough for readings of one moment that come in two packs."""

NOW = "now"
JOB = "job "


@dataclass(frozen=True, slots=True)
class State:
    """All that a start folds from the log. `stock_s` is the time of the stock's last entry."""

    workshop: Workshop
    bays: Mapping[str, Bay]
    ledger: Ledger
    stock_s: float


class Snapshots:
    """Makes snapshots of one version, and takes them up again.

    Attributes:
        every: events (readings, actions, ticks) between two of them; None: none is made, for the log ends with us.
        events: events since the last one.
    """

    def __init__(self, log: Log, writer: Writer, settings: Settings) -> None:
        self.every = None if settings.database is None else EVERY_EVENTS
        self.events = 0
        self._log = log
        self._writer = writer
        self._version = "" if self.every is None else version_of(settings)
        self._kept: frozenset[str] = frozenset()
        self._making: asyncio.Task[None] | None = None

    async def resumed(self) -> State | None:
        """The newest state that a snapshot holds; None: there is none that fits the log and this program.

        Raises:
            LogError: the log cannot be read.
        """
        found = {snapshot.name: snapshot for snapshot in await self._log.snapshots(self._version)}
        now = found.get(NOW)
        if now is None or now.position > await self._log.last_position() or not await self._log.is_gapless():
            return None
        try:
            state = _thawed(found)
        except FrozenError as error:
            _LOG.warning("the snapshot cannot be read, so the whole log is folded: %s", error)
            return None
        self._kept = frozenset(name for name in found if name.startswith(JOB))
        return state

    def noticed(self, events: int, state: Callable[[], State]) -> None:
        """Count what has come. When it is enough, a snapshot is made beside everything else."""
        self.events += events
        due = self.every is not None and self.events >= self.every
        if due and (self._making is None or self._making.done()):
            self._making = asyncio.create_task(self._make(state()), name="snapshot")

    async def finish(self, state: State, timeout_s: float) -> None:
        """Make the last one. All of the state must be on the disk."""
        if self._making is not None:
            await asyncio.wait([self._making], timeout=timeout_s)
            self._making.cancel()
        if self.every is not None and self.events:
            await self._make(state)

    async def _make(self, state: State) -> None:
        self.events = 0
        try:
            made = await asyncio.to_thread(self._made, state)
            await self._writer.durable_to(state.workshop.position)
            await self._log.keep(made)
        except Exception as error:  # noqa: BLE001 - it is a cache: whatever it is, the service goes on without
            _LOG.warning("no snapshot was made, so the next start takes longer: %s", error)
        else:
            self._kept |= {snapshot.name for snapshot in made if snapshot.name != NOW}

    def _made(self, state: State) -> list[Snapshot]:
        workshop, position = state.workshop, state.workshop.position
        taking = {*workshop.open_jobs.values(), *workshop.closed_jobs.values()}
        live = {each: _cut(job, workshop) for each, job in workshop.jobs.items() if each in taking}
        bays = {name: (bay.position, bay.received_s, bay.action_s, bay.heard) for name, bay in state.bays.items()}
        now = (tuple(workshop.jobs), replace(workshop, jobs=live), bays, state.ledger, state.stock_s)
        done = [job for each, job in workshop.jobs.items() if each not in taking and JOB + each not in self._kept]
        texts = {NOW: frozen.dumps(now), **{JOB + job.id: frozen.dumps(job) for job in done}}
        return [Snapshot(name, self._version, position, text) for name, text in texts.items()]


def _cut(job: Job, workshop: Workshop) -> Job:
    """With the last chunks, and forgetting as usual even where its history is being fetched right now."""
    return replace(job, timeline=replace(job.timeline.cut(LAST_CHUNKS), most_chunks=workshop.recent_chunks))


def _thawed(found: Mapping[str, Snapshot]) -> State:
    try:
        job_ids, workshop, bays, ledger, stock_s = frozen.loads(found[NOW].text)
        live = workshop.jobs
        jobs = {each: live[each] if each in live else frozen.loads(found[JOB + each].text) for each in job_ids}
        known = {name: Bay(*fields) for name, fields in bays.items()}
    except (KeyError, TypeError, ValueError, AttributeError) as error:
        raise FrozenError(f"it is incomplete ({error!r})") from error
    if workshop.position != found[NOW].position or any(type(job) is not Job for job in jobs.values()):
        raise FrozenError("it is not what it says")
    return State(replace(workshop, jobs=jobs), known, ledger, stock_s)


def version_of(settings: Settings) -> str:
    """What a snapshot depends on besides the log: the program to the last byte, what computes for it, and settings."""
    root = Path(fillmark.__file__).parent
    digest = hashlib.blake2b(digest_size=16)
    for path in sorted(root.rglob("*.py")):
        digest.update(f"{path.relative_to(root)}\0".encode() + path.read_bytes())
    made_by = (platform.python_version(), platform.machine(), facade.PINNED_VERSION, settings.recent_events)
    digest.update(repr(made_by).encode())
    return digest.hexdigest()
