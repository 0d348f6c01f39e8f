"""When a channel counts as silent."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.engine.latest import Latest, noted

ROUNDING_S = 1e-6


def _spoken(channel: str, interval_s: float, count: int) -> Latest:
    latest: dict[str, Latest] = {}
    for index in range(count):
        latest = noted(latest, channel, index * interval_s, 1.0)
    return latest[channel]


@pytest.mark.parametrize(
    ("channel", "interval_s", "silent_s"),
    [
        ("scale/mass", 0.1, 3.0),  # 3 s at least
        ("scale/mass", 1.0, 3.0),
        ("scale/mass", 2.0, 6.0),  # three intervals of its own
        ("low/pressure", 1.0, 10.0),  # 10 s at least
        ("low/pressure", 5.0, 15.0),
    ],
)
def test_three_of_its_own_intervals_and_a_least_time(channel: str, interval_s: float, silent_s: float) -> None:
    latest = _spoken(channel, interval_s, 50)
    assert latest.stale_at_s(channel) - latest.time_s == pytest.approx(silent_s)


def test_after_one_reading_the_interval_is_not_known() -> None:
    assert Latest(100.0, 1.0).stale_at_s("scale/mass") == 109.0
    assert Latest(100.0, 1.0).stale_at_s("low/pressure") == 130.0


@given(pause=st.floats(10.0, 1e6), channel=st.sampled_from(["scale/mass", "low/pressure"]))
def test_an_outage_never_puts_off_staleness_by_more_than_half_a_minute(pause: float, channel: str) -> None:
    second = Latest(0.0, 1.0).followed_by(pause, 1.0)
    assert second.stale_at_s(channel) - pause <= 30.0 + ROUNDING_S
    later = _spoken(channel, 1.0, 20).followed_by(20.0 + pause, 1.0)
    assert later.stale_at_s(channel) - later.time_s <= 10.0 + ROUNDING_S


def test_other_channels_stay_as_they_are() -> None:
    before = {"scale/mass": Latest(0.0, 1.0)}
    after = noted(before, "low/pressure", 1.0, 3e5)
    assert after["scale/mass"] is before["scale/mass"]
    assert "low/pressure" not in before
