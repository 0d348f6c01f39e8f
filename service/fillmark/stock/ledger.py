"""The stock's own entries, folded: containers from purchase to return, and what happened to them outside of jobs.

* A container's name belongs to one container at a time; after its return the name is free for another.
* The mass that is in a container is never stored: it is the sum of its moves (`moves`), the jobs' among them.
* An entry is refused where it does not fit, and then changes nothing. A cancelled entry stays and counts no more.
* A container is weighed or given back only while no open job has used it: its moves are then all in the past.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime

from fillmark.engine.job import Job
from fillmark.wire.stock import Cancel, Purchase, Return, StockAction, Weighing

Jobs = Mapping[str, Job]


class StockRefusedError(ValueError):
    """An entry that does not fit the stock. `code` is stable, `field` is a JSON pointer into the entry."""

    def __init__(self, code: str, field: str, detail: str) -> None:
        super().__init__(detail)
        self.code = code
        self.field = field
        self.detail = detail


@dataclass(frozen=True, slots=True)
class Booked:
    """One entry: its position in the log, when it was entered, when it happened, and what it says."""

    position: int
    entered_s: float
    at_s: float
    action: StockAction


@dataclass(frozen=True, slots=True)
class Holding:
    """One container from its purchase on.

    Attributes:
        bought: its purchase.
        booked: what was entered of it since, the return among it.
        earlier_jobs: jobs that had used the name before this container had it.
    """

    bought: Booked
    booked: tuple[Booked, ...] = ()
    earlier_jobs: frozenset[str] = frozenset()

    @property
    def purchase(self) -> Purchase:
        """What was said at its purchase."""
        assert isinstance(self.bought.action, Purchase)  # noqa: S101 - made so in `_bought` alone
        return self.bought.action

    @property
    def id(self) -> str:
        """The container's name."""
        return self.purchase.container

    @property
    def returned(self) -> Booked | None:
        """Its return; None while it is in the stock."""
        return next((one for one in self.booked if isinstance(one.action, Return)), None)

    @property
    def tare_kg(self) -> float | None:
        """Mass of the empty container as last said, kg."""
        weighed = (one.action.tare_kg for one in reversed(self.booked) if isinstance(one.action, Weighing))
        return next((tare for tare in weighed if tare is not None), self.purchase.tare_kg)


@dataclass(frozen=True, slots=True)
class Ledger:
    """All containers that were ever bought, in the order of their purchase."""

    holdings: tuple[Holding, ...] = ()

    def current(self, container: str) -> Holding | None:
        """The container of that name in the stock now."""
        return next((one for one in self.holdings if one.id == container and one.returned is None), None)

    def entry(self, position: int) -> tuple[Holding, Booked] | None:
        """The entry at a position of the log, and whose it is."""
        for holding in self.holdings:
            for booked in (holding.bought, *holding.booked):
                if booked.position == position:
                    return holding, booked
        return None


def step(ledger: Ledger, position: int, entered_s: float, action: StockAction, jobs: Jobs) -> Ledger:
    """The ledger with one more entry.

    Args:
        ledger: the entries so far.
        position: the entry's place in the log.
        entered_s: when it was entered, Unix seconds.
        action: what it says.
        jobs: all jobs as of then.

    Raises:
        StockRefusedError: it does not fit; nothing has changed.
    """
    if isinstance(action, Cancel):
        return _cancelled(ledger, action, jobs)
    booked = Booked(position, entered_s, _happened_s(action, entered_s), action)
    if isinstance(action, Purchase):
        return _bought(ledger, booked, action, jobs)
    holding = ledger.current(action.container)
    if holding is None:
        known = ", ".join(one.id for one in ledger.holdings if one.returned is None) or "none"
        detail = f"there is no container {action.container} in the stock; buy it first, or name one of: {known}"
        raise StockRefusedError("unknown-container", "/container", detail)
    if booked.at_s < holding.bought.at_s:
        detail = f"{action.container} came into the stock only later; give a day on or after its purchase"
        raise StockRefusedError("before-purchase", "/on", detail)
    if isinstance(action, (Return, Weighing)):
        _require_idle(holding, jobs)
    if isinstance(action, Weighing):
        booked = replace(booked, action=action.model_copy(update={"tare_kg": _tare_of(holding, action)}))
    return _with(ledger, holding, replace(holding, booked=(*holding.booked, booked)))


def in_open_job(holding: Holding, jobs: Jobs) -> str | None:
    """The open job that has used a container."""
    return next((job.id for job in users(holding, jobs.values()) if job.closed_s is None), None)


def users(holding: Holding, jobs: Iterable[Job]) -> list[Job]:
    """The jobs that used a container, in the order of their opening."""
    last_s = None if holding.returned is None else holding.returned.entered_s
    found = [
        job
        for job in jobs
        if holding.id in job.course.containers
        and job.id not in holding.earlier_jobs
        and (last_s is None or job.opened_s <= last_s)
    ]
    return sorted(found, key=lambda job: job.opened_position)


def _happened_s(action: StockAction, entered_s: float) -> float:
    """When it happened: noon UTC of the day that is named, but not after the entry."""
    day: date | None = getattr(action, "on", None)
    if day is None:
        return entered_s
    begins = _begins_s(day)
    if begins > entered_s:
        raise StockRefusedError("in-the-future", "/on", f"{day} has not come yet; give the day it happened")
    return min(begins + 43_200.0, entered_s)


def _begins_s(day: date) -> float:
    """Midnight of a day in UTC."""
    return datetime(day.year, day.month, day.day, tzinfo=UTC).timestamp()


def _bought(ledger: Ledger, booked: Booked, action: Purchase, jobs: Jobs) -> Ledger:
    if ledger.current(action.container) is not None:
        detail = f"{action.container} is in the stock already; return it first, or give the new one another name"
        raise StockRefusedError("container-in-stock", "/container", detail)
    before = [one.returned for one in ledger.holdings if one.id == action.container]
    if any(one is not None and booked.at_s < one.at_s for one in before):
        detail = f"another {action.container} was in the stock then; give a day after its return"
        raise StockRefusedError("before-return", "/on", detail)
    # A day is all that `on` says, so a job of that day counts as the new container's, unless it had used the old one.
    begins = booked.at_s if action.on is None else _begins_s(action.on)
    earlier = frozenset(job.id for job in jobs.values() if job.closed_s is not None and job.closed_s < begins)
    earlier |= {job.id for one in ledger.holdings if one.id == action.container for job in users(one, jobs.values())}
    return replace(ledger, holdings=(*ledger.holdings, Holding(booked, earlier_jobs=earlier)))


def _require_idle(holding: Holding, jobs: Jobs) -> None:
    job = in_open_job(holding, jobs)
    if job is not None:
        detail = f"the open job {job} has used {holding.id}; close it first"
        raise StockRefusedError("container-in-use", "/container", detail)


def _tare_of(holding: Holding, action: Weighing) -> float:
    tare = holding.tare_kg if action.tare_kg is None else action.tare_kg
    if tare is None:
        raise StockRefusedError("tare-unknown", "/tare", f"the tare of {holding.id} is not known; give it too")
    if action.gross_kg < tare:
        raise StockRefusedError("below-tare", "/gross", f"{holding.id} weighs less than its tare of {tare:g} kg")
    return tare


def _cancelled(ledger: Ledger, action: Cancel, jobs: Jobs) -> Ledger:
    found = ledger.entry(action.entry)
    if found is None:
        detail = f"the entry {action.entry} is none of the stock, or was cancelled; GET /v1/containers/NAME lists them"
        raise StockRefusedError("unknown-entry", "/entry", detail)
    holding, booked = found
    if booked is holding.bought:
        if holding.booked or users(holding, jobs.values()):
            detail = f"{holding.id} has been used since; cancel what came after, or return it"
            raise StockRefusedError("used-since", "/entry", detail)
        return replace(ledger, holdings=tuple(one for one in ledger.holdings if one is not holding))
    if isinstance(booked.action, Return) and ledger.current(holding.id) is not None:
        detail = f"another {holding.id} is in the stock now; it must be returned or cancelled first"
        raise StockRefusedError("container-in-stock", "/entry", detail)
    kept = tuple(one for one in holding.booked if one is not booked)
    return _with(ledger, holding, replace(holding, booked=kept))


def _with(ledger: Ledger, old: Holding, new: Holding) -> Ledger:
    return replace(ledger, holdings=tuple(new if one is old else one for one in ledger.holdings))
