"""Keeps the state. The order of everything: adopt, publish, write, acknowledge.

* A request is folded as a whole in one go of the event loop; a refusal leaves everything as it was.
* The state and the streams have it at once: a stop point never waits for the disk.
* The client is told 2xx only when it is durable.
* A record that comes again while the first one waits for the disk waits for the same commit.
"""

from __future__ import annotations

import asyncio
import math
from collections import OrderedDict
from collections.abc import Awaitable, Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

from fillmark.api import packs
from fillmark.api.bay import Bay
from fillmark.api.history import whole_timeline
from fillmark.api.known import Known
from fillmark.api.packs import Part
from fillmark.api.problems import ProblemError
from fillmark.api.pulse import Pulse
from fillmark.api.settings import Settings
from fillmark.api.snapshots import Snapshots, State
from fillmark.api.stock_desk import StockDesk
from fillmark.api.ticker import Ticker
from fillmark.api.writer import Writer
from fillmark.engine import workshop as engine
from fillmark.engine.errors import ActionRefusedError, HistoryNeededError
from fillmark.engine.events import Entry
from fillmark.engine.job import Job
from fillmark.engine.timeline import CHUNK_EVENTS
from fillmark.engine.workshop import Workshop
from fillmark.intake.events import IntakeError
from fillmark.stock.ledger import Ledger, StockRefusedError
from fillmark.store.log import Identity, KeptAnswer, Log, LogEntry, LogError
from fillmark.wire.clock import Clock
from fillmark.wire.senml import Record

T = TypeVar("T")
ANSWERS_IN_MEMORY = 10_000
DRAIN_S = 5.0


@dataclass(frozen=True, slots=True)
class Receipt:
    """What became of a pack. All of it is durable up to `position`."""

    accepted: int
    duplicate: int
    unassigned: int
    position: int


@dataclass(frozen=True, slots=True)
class Keyed:
    """A request with an idempotency key: the key, and the digest of what was asked."""

    key: str
    fingerprint: str


@dataclass(frozen=True, slots=True)
class Folded:
    """A request that fits, folded but not adopted."""

    workshop: Workshop
    entries: tuple[LogEntry, ...]
    parts: tuple[Part, ...] = ()
    unassigned: int = 0


MakeStockAnswer = Callable[[Ledger, int], str]
"""JSON text from the ledger after the entry, and the entry's position."""

MakeAnswer = Callable[[Job, float], tuple[int, str]]
"""Status and JSON text from the job after the action, and the action's time."""


class Keeper:
    """State, log and everybody who waits for them. Made by `restore.restored`.

    Attributes:
        news: beats with every entry, whatever its bay.
    """

    def __init__(self, settings: Settings, log: Log, clock: Clock) -> None:
        self.settings = settings
        self.log = log
        self.clock = clock
        self.workshop = Workshop(recent_chunks=math.ceil(settings.recent_events / CHUNK_EVENTS))
        self.bays: dict[str, Bay] = {}
        self.stock = StockDesk()
        self.writer = Writer(log, 0, settings.pending_entries, settings.pending_bytes)
        self.snapshots = Snapshots(log, self.writer, settings)
        self.ticker = Ticker(clock, lambda: self.workshop.wake_at_s, self._tick)
        self._known = Known(settings.times_in_memory)
        self._answers: OrderedDict[str, KeptAnswer] = OrderedDict()
        self.news = Pulse()
        self._pulses: dict[str, Pulse] = {}
        self._writing: asyncio.Task[None] | None = None
        self._stopping = False
        self._recalling = asyncio.Lock()
        self._asking = 0

    def start(self) -> None:
        """Begin to write and to tick."""
        self.writer.durable = self.workshop.position
        self._writing = asyncio.create_task(self.writer.run(), name="log writer")
        self.snapshots.noticed(0, self.state)
        self.ticker.arm()

    def end_streams(self) -> None:
        """Refuse what still comes, and let everybody go who waits for news."""
        self._stopping = True
        for pulse in (self.news, *self._pulses.values()):
            pulse.stop()

    async def stop(self) -> None:
        """Write what waits, then close the log."""
        self.end_streams()
        self.ticker.stop()
        if await self.writer.drained(DRAIN_S):
            await self.snapshots.finish(self.state(), DRAIN_S)
        if self._writing is not None:
            self._writing.cancel()
            await asyncio.gather(self._writing, return_exceptions=True)
        await self.log.close()

    def state(self) -> State:
        """What a snapshot holds. It does not change any more."""
        bays = {name: replace(bay, heard=dict(bay.heard)) for name, bay in self.bays.items()}
        return State(self.workshop, bays, self.stock.ledger, self.stock.last_s)

    def resume(self, state: State) -> None:
        """Go on from a state, instead of the beginning of the log."""
        self.workshop, self.bays = state.workshop, dict(state.bays)
        self.stock.ledger, self.stock.last_s = state.ledger, state.stock_s
        self.writer.durable = state.workshop.position
        for name, bay in state.bays.items():
            for channel, time_s in bay.newest(name).items():
                self._known.forget_to(channel, time_s)

    def pulse(self, bay: str) -> Pulse:
        """The beat of a bay: it changes with every entry of that bay."""
        pulse = self._pulses.get(bay)
        if pulse is None:
            pulse = self._pulses[bay] = Pulse()
            pulse.stopped = self._stopping
        return pulse

    async def submit(self, records: Sequence[Record]) -> Receipt:
        """Take the records of a pack and wait until they are durable.

        Raises:
            ProblemError: one of them is refused; nothing was changed.
            LogError: they are taken but not durable yet.
        """
        packs.checked(records, self.clock.now_s(), self.settings.future_limit_s)
        identities = [packs.identity_of(record) for record in records]

        async def attempt() -> Receipt:
            return self._taken(records, identities, await self._in_the_log(identities))

        receipt = await self._attempted(attempt)
        await self.writer.durable_to(receipt.position)
        return receipt

    async def act(self, bay: str, text: str, make: MakeAnswer, keyed: Keyed | None, job_id: str = "") -> KeptAnswer:
        """Take one action as JSON text and wait until it is durable. Without `job_id` it opens a job.

        Raises:
            ProblemError: it is refused; nothing was changed.
            LogError: it is taken but not durable yet.
        """

        async def attempt() -> KeptAnswer:
            kept = None if keyed is None else await self._kept(keyed)
            return kept or self._acted(bay, text, make, keyed or Keyed("", ""), job_id)

        kept = await self._attempted(attempt)
        await self.writer.durable_to(kept.position)
        return kept

    async def book(self, text: str, make: MakeStockAnswer, keyed: Keyed) -> KeptAnswer:
        """Take one entry of the stock as JSON text and wait until it is durable.

        Raises:
            ProblemError: it is refused; nothing was changed.
            LogError: it is taken but not durable yet.
        """
        kept = await self._kept(keyed)
        if kept is None:
            kept = self._booked(text, make, keyed)
        await self.writer.durable_to(kept.position)
        return kept

    def job_at(self, bay: str, position: int) -> str:
        """Id of the job that the entry at `position` opened in `bay`."""
        return next(j.id for j in self.workshop.jobs.values() if j.bay == bay and j.opened_position == position)

    async def with_history(self, attempt: Callable[[], Awaitable[T]]) -> T:
        """Try to fold. Where that needs what a job has forgotten, fetch it from the log and try again.

        Raises:
            LogError: the log cannot be written or read, or it is damaged.
        """
        while True:
            try:
                return await attempt()
            except HistoryNeededError as needed:
                async with self._recalling:
                    await self._recall(self.workshop.jobs[needed.job_id])

    async def _recall(self, job: Job) -> None:
        if job.timeline.whole:
            return
        position = self.workshop.position
        self.workshop = engine.recalling(self.workshop, job.id)
        try:
            await self.writer.durable_to(position)
            whole = await whole_timeline(self.log, job, position)
            self.workshop = engine.recalled(self.workshop, job.id, whole)
        except BaseException:
            self.workshop = engine.recalled(self.workshop, job.id, None)
            raise

    def remember(self, entry: LogEntry, records: Iterable[Record]) -> None:
        """Note what an entry of the log holds."""
        if entry.bay == packs.RESERVED_BAY:
            self.stock.remember(entry, records, self.workshop)
            return
        bay = self.bays.setdefault(entry.bay, Bay())
        bay.position, bay.received_s = entry.position, entry.received_s
        if not self._asking:
            self._known.settle(self.writer.durable)
        for record in records:
            self._known.add(packs.identity_of(record), entry.position)
            bay.hear(record)

    async def _attempted(self, attempt: Callable[[], Awaitable[T]]) -> T:
        try:
            return await self.with_history(attempt)
        except LogError as error:
            detail = f"{error}. What comes so late needs the log; nothing was taken, send it again later"
            raise ProblemError("backlog-full", detail, headers={"Retry-After": "2"}) from error

    def _taken(self, records: Sequence[Record], identities: Sequence[Identity], elsewhere: set[Identity]) -> Receipt:
        places = []
        seen = set(elsewhere)
        for index, identity in enumerate(identities):
            if identity not in seen and not self._known.has(identity):
                places.append(index)
                seen.add(identity)
        duplicate = len(records) - len(places)
        if not places:
            return Receipt(0, duplicate, 0, self.workshop.position)
        folded = self._folded(packs.parts_of([records[index] for index in places], places))
        self._adopt(folded)
        return Receipt(len(places), duplicate, folded.unassigned, folded.workshop.position)

    def _acted(self, bay: str, text: str, make: MakeAnswer, keyed: Keyed, job_id: str) -> KeptAnswer:
        self._require_open(bay, job_id)
        time_s = self._action_time_s(bay)
        folded = self._folded([packs.part_of_action(bay, time_s, text)])
        job = folded.workshop.jobs[job_id or folded.workshop.open_jobs[bay]]
        status, body = make(job, time_s)
        answer = KeptAnswer(keyed.key, keyed.fingerprint, folded.workshop.position, status, body)
        self._adopt(folded, answer if keyed.key else None)
        return answer

    def _booked(self, text: str, make: MakeStockAnswer, keyed: Keyed) -> KeptAnswer:
        last_s = max((bay.action_s for bay in self.bays.values()), default=0.0)
        time_s = max(self.clock.now_s(), round(max(last_s, self.stock.last_s) + 1e-6, 6))
        try:
            ledger = self.stock.tried(text, self.workshop.position + 1, time_s, self.workshop)
        except IntakeError as error:
            raise ProblemError("invalid-field", error.problem, field=error.field, accepted=error.accepted) from error
        except StockRefusedError as error:
            raise ProblemError("stock-refused", error.detail, field=error.field, more={"code": error.code}) from error
        folded = self._folded([packs.part_of_stock(time_s, text)])
        position = folded.workshop.position
        answer = KeptAnswer(keyed.key, keyed.fingerprint, position, 200, make(ledger, position))
        self._adopt(folded, answer)
        return answer

    def _require_open(self, bay: str, job_id: str) -> None:
        opened = self.workshop.open_jobs.get(bay)
        if job_id and opened != job_id:
            now = f"{opened} is open in {bay}" if opened else f"no job is open in {bay}"
            raise ProblemError("job-closed", f"{job_id} is closed: {now}", accepted="an action for the open job")

    def _action_time_s(self, bay: str) -> float:
        """Now; a microsecond after the bay's last action where that is later, so that their order is told by time."""
        last = self.bays[bay].action_s if bay in self.bays else 0.0
        return max(self.clock.now_s(), round(last + 1e-6, 6))

    def _folded(self, parts: Sequence[Part]) -> Folded:
        if self._stopping:
            raise ProblemError("stopping", "the service is stopping; send it again later", headers={"Retry-After": "1"})
        if self.writer.full:
            detail = f"{self.writer.pending} entries wait for the disk; nothing was taken, send it again later"
            raise ProblemError("backlog-full", detail, headers={"Retry-After": "2"})
        workshop, now = self.workshop, self.clock.now_s()
        entries, unassigned = [], 0
        for part in parts:
            position = workshop.position + 1
            try:
                workshop, outputs = engine.step(workshop, Entry(position, now, part.bay, part.events))
            except ActionRefusedError as error:
                raise _refused(error) from error
            identities = tuple(packs.identity_of(record) for record in part.records)
            entries.append(LogEntry(position, now, part.bay, part.pack, identities))
            unassigned += outputs.unassigned
        return Folded(workshop, tuple(entries), tuple(parts), unassigned)

    def _adopt(self, folded: Folded, answer: KeptAnswer | None = None) -> None:
        self.workshop = folded.workshop
        self.writer.put(folded.entries, answer)
        for entry, part in zip(folded.entries, folded.parts, strict=True):
            self.remember(entry, part.records)
        if answer is not None:
            self._answers[answer.key] = answer
            if len(self._answers) > ANSWERS_IN_MEMORY:
                self._answers.popitem(last=False)
        for entry in folded.entries:
            if entry.bay in self._pulses:
                self._pulses[entry.bay].beat()
        self.news.beat()
        self.ticker.arm()
        self.snapshots.noticed(sum(1 + len(part.records) for part in folded.parts), self.state)

    def _tick(self, now_s: float) -> None:
        """Let time pass in every bay that waits for it. Never refused: a stop point may depend on it."""
        for bay in self.workshop.bays_due(now_s):
            position = self.workshop.position + 1
            workshop, _ = engine.step(self.workshop, Entry(position, now_s, bay))
            nothing = Part(bay, (), (), "")
            self._adopt(Folded(workshop, (LogEntry(position, now_s, bay),), (nothing,)))

    async def _in_the_log(self, identities: Sequence[Identity]) -> set[Identity]:
        """Those older than what is remembered, which only the log knows."""
        unsure = [identity for identity in identities if self._known.unsure(identity)]
        if not unsure:
            return set()
        self._asking += 1
        try:
            return await self.log.known(unsure)
        finally:
            self._asking -= 1

    async def _kept(self, keyed: Keyed) -> KeptAnswer | None:
        kept = self._answers.get(keyed.key)
        if kept is None:
            stored = await self.log.answer(keyed.key)
            kept = self._answers.get(keyed.key) or stored
        if kept is not None and kept.fingerprint != keyed.fingerprint:
            raise ProblemError(
                "idempotency-key-reused",
                f"the key {keyed.key!r} was used for another request",
                field="/headers/Idempotency-Key",
                accepted="a new key for every action, the same key for its retry",
            )
        return kept


def _refused(error: ActionRefusedError) -> ProblemError:
    return ProblemError("action-refused", error.detail, field=f"/{error.field}", more={"code": error.code})
