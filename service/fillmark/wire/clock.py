"""The clock with which both ends stamp: wall time read once, then carried on by a clock that never steps.

A wall clock that is set forward or back while refrigerant flows would make a live reading look stale or a
stale one live. So the wall clock is asked once, at start, and elapsed time comes from a clock that also counts
sleep.
"""

from __future__ import annotations

import time
from collections.abc import Callable


def _elapsed_s() -> float:
    """Seconds that never step back and, where the system can, go on during sleep."""
    boot_time = getattr(time, "CLOCK_BOOTTIME", None)
    return time.monotonic() if boot_time is None else time.clock_gettime(boot_time)


class Clock:
    """Unix seconds without steps, at `speed` times real time from `epoch_s` on.

    Two processes that share `epoch_s` and `speed` share the time: a demonstration runs faster than life.
    """

    def __init__(
        self,
        *,
        epoch_s: float | None = None,
        speed: float = 1.0,
        wall: Callable[[], float] = time.time,
        elapsed: Callable[[], float] = _elapsed_s,
    ) -> None:
        if not speed > 0.0:
            raise ValueError(f"the clock's speed is {speed:g}; give a number above zero")
        self.speed = speed
        self._elapsed = elapsed
        self._start_elapsed_s = elapsed()
        start_s = wall()
        self._start_s = start_s if epoch_s is None else epoch_s + speed * (start_s - epoch_s)

    def now_s(self) -> float:
        """Unix seconds now, rounded to the microsecond so that JSON keeps every digit."""
        return round(self._start_s + self.speed * (self._elapsed() - self._start_elapsed_s), 6)

    def real_s(self, clock_s: float) -> float:
        """How many real seconds `clock_s` seconds of this clock take."""
        return clock_s / self.speed
