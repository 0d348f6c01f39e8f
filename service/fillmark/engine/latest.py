"""The last reading of every channel, how often the channel speaks, and when it has been silent for too long."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

STALE_INTERVALS = 3.0
LEAST_STALE_S = {"scale/mass": 3.0}
LEAST_STALE_OTHERS_S = 10.0
UNKNOWN_INTERVAL_S = {"scale/mass": 3.0}
UNKNOWN_INTERVAL_OTHERS_S = 10.0
"""Taken for the interval of a channel that has spoken once only."""

SHARE = 0.2
SLOWER_SHARE = 0.7
"""Weight of the newest pause in the running mean, and of one that is longer than usual."""

LONGEST_INTERVAL_S = 10.0
LONGEST_EASY_INTERVAL_S = 15.0
"""A longer pause is an outage and says nothing about how often the channel speaks."""


@dataclass(frozen=True, slots=True)
class Latest:
    """Last reading of one channel. `interval_s` is a running mean of the time between readings; None: only one yet."""

    time_s: float
    value: float
    interval_s: float | None = None

    def followed_by(self, time_s: float, value: float, *, easy: bool = False) -> Latest:
        """The record after one more reading. An `easy` channel is believed at once when it speaks less often."""
        gap = min(time_s - self.time_s, LONGEST_EASY_INTERVAL_S if easy else LONGEST_INTERVAL_S)
        share = SLOWER_SHARE if easy and self.interval_s is not None and gap > self.interval_s else SHARE
        interval = gap if self.interval_s is None else self.interval_s + share * (gap - self.interval_s)
        return Latest(time_s, value, interval)

    def stale_at_s(self, channel: str) -> float:
        """Moment from which the reading must not be taken for live."""
        least = LEAST_STALE_S.get(channel, LEAST_STALE_OTHERS_S)
        interval = self.interval_s
        if interval is None:
            interval = UNKNOWN_INTERVAL_S.get(channel, UNKNOWN_INTERVAL_OTHERS_S)
        return self.time_s + max(least, STALE_INTERVALS * interval)


def noted(latest: Mapping[str, Latest], channel: str, time_s: float, value: float) -> dict[str, Latest]:
    """The mapping with one more reading in it."""
    before = latest.get(channel)
    after = Latest(time_s, value) if before is None else before.followed_by(time_s, value, easy=channel != "scale/mass")
    return {**latest, channel: after}
