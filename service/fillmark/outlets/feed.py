"""What an outlet sees of the service."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

Plain = dict[str, object]


@dataclass(frozen=True, slots=True)
class Moved:
    """One change of one stop point.

    Attributes:
        position: of the log's entry that caused it.
        number: counts the changes that one entry caused, from 0.
        bay: where.
        at_s: when, Unix seconds of the service's clock.
        document: what displays get: job, stop point, severity, states, text.
    """

    position: int
    number: int
    bay: str
    at_s: float
    document: Plain


class Feed(Protocol):
    """The service, to read."""

    @property
    def stopped(self) -> bool:
        """Whether the service is stopping."""
        ...

    @property
    def position(self) -> int:
        """Position of the last entry of the log, on the disk or not yet."""
        ...

    def now_s(self) -> float:
        """The service's clock, Unix seconds."""
        ...

    def bays(self) -> dict[str, int]:
        """Every bay that was ever heard of, and the position of its last entry."""
        ...

    def glance(self, bay: str) -> Plain:
        """What GET /v1/bays/{bay}/glance answers."""
        ...

    def moved(self, after: int, up_to: int) -> list[Moved]:
        """Changes of stop points by entries after one position, up to another, in order."""
        ...

    async def durable(self) -> int:
        """Wait until what is known now is on the disk; the position of it."""
        ...

    async def news(self, timeout_s: float) -> bool:
        """Wait for the next entry, at most so many real seconds."""
        ...
