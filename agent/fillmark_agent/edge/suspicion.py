"""Notices that a sensor has begun to speak another unit without saying so: kilograms become pounds, bar become psi.

* A steady value that from one reading to the next becomes exactly what it would be in another unit is suspected.
* Suspected values are no numbers, until the sensor reads as before or the agent is started anew.
* A true change hits such a ratio within a thousandth, in one step and from rest, so rarely that asking is right.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from fillmark_agent.edge.units import Line

_WITHIN = 1e-3
_STEADY = 2e-3
_AS_BEFORE = 0.2
_MEMORY_S = 60.0


def _both(*factors: float) -> tuple[Line, ...]:
    return tuple(Line(one) for factor in factors for one in (factor, 1.0 / factor))


# NIST SP 811 (2008), appendix B: 1 lb = 0.45359237 kg, 16 oz = 1 lb, 1 psi = 6894.757 Pa.
_OTHER: Mapping[str, tuple[float, tuple[Line, ...]]] = {
    "mass": (0.05, _both(1000.0, 1.0 / 0.45359237, 16.0, 16.0 / 0.45359237)),
    "pressure": (2e4, _both(10.0, 100.0, 1000.0, 1e5, 6.894757, 100.0 / 6.894757, 68.94757, 6894.757)),
    "temperature": (0.0, (Line(1.8, 32.0), Line(1.0 / 1.8, -32.0 / 1.8), Line(1.0, 273.15), Line(1.0, -273.15))),
}
"""By quantity: the least value that can be judged, and what it becomes in other units."""


@dataclass(slots=True)
class Suspicion:
    """Watches one channel. Feed it every value in the unit inside, in order."""

    quantity: str
    _trusted: float | None = None
    _before: float | None = None
    _trusted_s: float = float("-inf")
    suspected: bool = field(default=False)

    def doubts(self, value: float, time_s: float) -> bool:
        """Whether this value (unit inside, at Unix seconds) must not be taken as a number."""
        if self.quantity not in _OTHER:
            return False
        if self.suspected:
            self.suspected = not self._as_before(value)
        else:
            self.suspected = time_s - self._trusted_s <= _MEMORY_S and self._jumped(value)
        if not self.suspected:
            self._before, self._trusted, self._trusted_s = self._trusted, value, time_s
        return self.suspected

    def _jumped(self, value: float) -> bool:
        trusted, before = self._trusted, self._before
        least, lines = _OTHER[self.quantity]
        if trusted is None or before is None or min(abs(trusted), abs(value)) < least:
            return False
        if abs(trusted - before) > _STEADY * max(abs(trusted), 1.0) or self._near(value, trusted, _AS_BEFORE):
            return False
        return any(self._near(value, line.at(trusted), _WITHIN) for line in lines)

    def _as_before(self, value: float) -> bool:
        return self._trusted is not None and self._near(value, self._trusted, _AS_BEFORE)

    def _near(self, value: float, other: float, within: float) -> bool:
        # A temperature of 0 °C has no ratio: it is compared against at least some ten degrees.
        size = max(abs(other), 25.0) if self.quantity == "temperature" else abs(other)
        return abs(value - other) <= within * size
