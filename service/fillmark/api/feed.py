"""The service as outlets see it."""

from __future__ import annotations

from bisect import bisect_right

from fillmark.api import documents
from fillmark.api.keeper import Keeper
from fillmark.engine.job import Job
from fillmark.outlets.feed import Moved, Plain
from fillmark.store.log import LogError
from fillmark.wire.clock import Clock


class ServiceFeed:
    """A `Feed` over the keeper."""

    def __init__(self, keeper: Keeper, clock: Clock) -> None:
        self._keeper = keeper
        self._clock = clock

    @property
    def stopped(self) -> bool:
        """Whether the service is stopping."""
        return self._keeper.news.stopped

    @property
    def position(self) -> int:
        """Position of the last entry."""
        return self._keeper.workshop.position

    def now_s(self) -> float:
        """The service's clock, Unix seconds."""
        return self._clock.now_s()

    def bays(self) -> dict[str, int]:
        """Every bay and the position of its last entry."""
        return {name: bay.position for name, bay in sorted(self._keeper.bays.items())}

    def glance(self, bay: str) -> Plain:
        """What GET /v1/bays/{bay}/glance answers."""
        return documents.glance_document(self._keeper.workshop, bay, self._clock.now_s())

    def moved(self, after: int, up_to: int) -> list[Moved]:
        """Changes of stop points by entries after `after`, up to `up_to`, in order."""
        jobs = self._keeper.workshop.jobs.values()
        found = [each for job in jobs if job.position > after for each in _moved(job, after, up_to)]
        return sorted(found, key=lambda moved: (moved.position, moved.number))

    async def durable(self) -> int:
        """Wait until what is known now is on the disk; where it cannot be written now, what is there already."""
        position = self.position
        try:
            await self._keeper.writer.durable_to(position)
        except LogError:
            return self._keeper.writer.durable
        return position

    async def news(self, timeout_s: float) -> bool:
        """Wait for the next entry, at most so many real seconds."""
        return await self._keeper.news.wait(timeout_s)


def _moved(job: Job, after: int, up_to: int) -> list[Moved]:
    found: list[Moved] = []
    for moved in job.journal[bisect_right(job.journal, after, key=lambda each: each.position) :]:
        if moved.position > up_to:
            break
        number = found[-1].number + 1 if found and found[-1].position == moved.position else 0
        document = documents.transition_document(job, moved)
        found.append(Moved(moved.position, number, job.bay, moved.at_s, document))
    return found
