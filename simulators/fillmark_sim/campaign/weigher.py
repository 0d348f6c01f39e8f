"""What can be put under trial: it takes what arrives from a bay and says what is in the circuit and when to close."""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from functools import cache
from importlib.metadata import entry_points
from typing import Protocol

from fillmark.wire.senml import Record

GROUP = "fillmark_sim.weighers"
"""Entry-point group of makers: called without arguments, each gives the `Weigher` of one charge."""


class Weighed(Protocol):
    """What is shown at one moment, kg."""

    @property
    def at_s(self) -> float | None:
        """Time of the indication from which the masses come, Unix s; None before the first."""

    @property
    def charged_kg(self) -> float:
        """Inside the circuit."""

    @property
    def charged_u_kg(self) -> float:
        """Its standard uncertainty (k = 1)."""

    @property
    def dispensed_kg(self) -> float:
        """Out of all containers so far."""


class Weigher(Protocol):
    """An estimator with a display, for one charge."""

    def take(self, records: Sequence[Record], arrival_s: float) -> None:
        """Take one pack of readings or actions at its arrival (Unix s); an empty one says that time has passed."""

    def weighed(self) -> Weighed | None:
        """What is shown now, after the end of the job the last; None before a job is open."""

    def active(self) -> Collection[str]:
        """Stop points that are active on the display now, by their ids; the technician obeys CLOSING_CALLS of them."""

    def called_at_s(self) -> Sequence[float]:
        """When it has called "close the valve now", Unix s, in order."""


class UnknownWeigherError(LookupError):
    """No installed package offers a weigher of that name."""


@cache
def load_weigher(name: str) -> Callable[[], Weigher]:
    """The maker of this name.

    Raises:
        UnknownWeigherError: there is none; the sentence says which there are.
    """
    found = entry_points(group=GROUP)
    if name not in found.names:
        known = ", ".join(sorted(found.names)) or "none; install the package that brings one, again if it was before"
        raise UnknownWeigherError(f"no weigher {name!r}; installed: {known}")
    maker: Callable[[], Weigher] = found[name].load()
    return maker
