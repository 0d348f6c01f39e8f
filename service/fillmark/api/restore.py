"""Start: fold the log, in order, exactly as it was taken, and go on from there.

Where a snapshot says what the log had led to, only what came after it is folded.
"""

from __future__ import annotations

import logging
import time

from fillmark.api import packs
from fillmark.api.keeper import Keeper
from fillmark.api.settings import Settings
from fillmark.engine import workshop as engine
from fillmark.engine.errors import ActionRefusedError, OtherCourseError
from fillmark.engine.events import Entry
from fillmark.engine.workshop import Workshop
from fillmark.intake.events import IntakeError
from fillmark.stock.ledger import StockRefusedError
from fillmark.store.log import Log, LogDamagedError, LogEntry
from fillmark.store.memory import MemoryLog
from fillmark.store.sqlite import SqliteLog
from fillmark.wire.clock import Clock
from fillmark.wire.senml import SenmlError

_LOG = logging.getLogger(__name__)
PAGE = 2000
CLOCK_BEHIND_S = 10.0


async def open_log(settings: Settings) -> Log:
    """The log that the settings name.

    Raises:
        LogError: it cannot be used; the sentence says what to do.
    """
    return MemoryLog() if settings.database is None else await SqliteLog.open(settings.database)


async def started(settings: Settings, log: Log, clock: Clock) -> Keeper:
    """A keeper that works: the log folded, its writer and its ticks running. It closes the log in the end.

    Raises:
        LogError: the log cannot be used.
    """
    try:
        keeper = await restored(settings, log, clock)
    except BaseException:
        await log.close()
        raise
    keeper.start()
    return keeper


async def restored(settings: Settings, log: Log, clock: Clock) -> Keeper:
    """A keeper with the state that the log leads to.

    Raises:
        LogDamagedError: an entry cannot be folded.
        LogError: the log cannot be read.
    """
    keeper = Keeper(settings, log, clock)
    began = time.perf_counter()
    state = await keeper.snapshots.resumed()
    if state is not None:
        keeper.resume(state)
    first = keeper.workshop.position
    while page := await log.read(keeper.workshop.position, PAGE):
        for entry in page:
            await _fold(keeper, entry)
    _report(keeper, keeper.workshop.position - first, time.perf_counter() - began)
    return keeper


async def _fold(keeper: Keeper, entry: LogEntry) -> None:
    try:
        if entry.position != keeper.workshop.position + 1:
            raise LogDamagedError(f"the log has a gap before position {entry.position}")
        records, events = packs.unpacked(entry)
        event = Entry(entry.position, entry.received_s, entry.bay, events)

        async def attempt() -> Workshop:
            return engine.step(keeper.workshop, event)[0]

        keeper.workshop = await keeper.with_history(attempt)
        keeper.writer.durable = entry.position
        keeper.remember(entry, records)
        keeper.snapshots.events += 1 + len(records)
    except (SenmlError, IntakeError, ActionRefusedError, OtherCourseError, StockRefusedError) as error:
        raise LogDamagedError(
            f"the entry at position {entry.position} of the log cannot be folded ({error}): the log is damaged, or "
            "another version of the program wrote it. Nothing was changed; start the version that wrote it, or "
            "restore a copy of the log"
        ) from error


def _report(keeper: Keeper, folded: int, seconds: float) -> None:
    if keeper.workshop.position:
        _LOG.info("folded %d of %d entries in %.2f s", folded, keeper.workshop.position, seconds)
    last = max((bay.received_s for bay in keeper.bays.values()), default=0.0)
    if last > keeper.clock.now_s() + CLOCK_BEHIND_S:
        _LOG.warning("the clock is %.0f s behind the log's last entry; set the clock", last - keeper.clock.now_s())
