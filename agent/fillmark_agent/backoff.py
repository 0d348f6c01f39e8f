"""Waiting times between attempts: exponential ceiling, full jitter, so that many agents do not return in step."""

from __future__ import annotations

import random

_MOST_DOUBLINGS = 30


class Backoff:
    """Random waits between zero and a ceiling that doubles with every attempt up to a cap."""

    def __init__(self, *, base_s: float = 0.25, cap_s: float = 10.0, rng: random.Random | None = None) -> None:
        self._base_s = base_s
        self._cap_s = cap_s
        self._rng = rng or random.Random()
        self._attempts = 0

    def next_s(self) -> float:
        """Seconds to wait before the next attempt."""
        ceiling_s = min(self._cap_s, self._base_s * 2.0 ** min(self._attempts, _MOST_DOUBLINGS))
        self._attempts += 1
        return self._rng.uniform(0.0, ceiling_s)

    def reset(self) -> None:
        """Begin again at the smallest ceiling: the last attempt worked."""
        self._attempts = 0
