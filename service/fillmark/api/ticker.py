"""Lets time pass in the log: a prediction falls due, or a channel turns stale, while nothing arrives."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable

from fillmark.wire.clock import Clock

_LOG = logging.getLogger(__name__)
LONGEST_SLEEP_S = 1.0
"""Real seconds. A loop's timer stands still while the machine sleeps; the clock does not."""
SHORTEST_SLEEP_S = 0.001


class Ticker:
    """Calls `tick(now)` when `wake_at()` has come. `arm` is called after every change of the state."""

    def __init__(self, clock: Clock, wake_at: Callable[[], float | None], tick: Callable[[float], None]) -> None:
        self._clock = clock
        self._wake_at = wake_at
        self._tick = tick
        self._timer: asyncio.TimerHandle | None = None
        self._armed_for: float | None = None
        self._stopped = False

    def arm(self) -> None:
        """Set the timer for the next wake."""
        wake = self._wake_at()
        if self._stopped or (wake == self._armed_for and self._timer is not None):
            return
        self._cancel()
        if wake is None:
            return
        delay = self._clock.real_s(wake - self._clock.now_s())
        delay = min(max(delay, SHORTEST_SLEEP_S), LONGEST_SLEEP_S)
        self._timer = asyncio.get_running_loop().call_later(delay, self._fire)
        self._armed_for = wake

    def stop(self) -> None:
        """No more ticks."""
        self._stopped = True
        self._cancel()

    def _cancel(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
        self._timer = None
        self._armed_for = None

    def _fire(self) -> None:
        self._timer = None
        now, wake = self._clock.now_s(), self._wake_at()
        try:
            if wake is not None and wake <= now:
                self._tick(now)
        except Exception:  # noqa: BLE001 - a timer has no caller who could be told
            _LOG.exception("a tick failed; the next one is tried in %g s", LONGEST_SLEEP_S)
            self._timer = asyncio.get_running_loop().call_later(LONGEST_SLEEP_S, self._fire)
        else:
            self.arm()
