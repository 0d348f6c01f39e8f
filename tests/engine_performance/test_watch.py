"""The watch: means that no sampling rate shifts, a settled circuit, and readings that change nothing."""

from __future__ import annotations

import math

import pytest

from fillmark.engine.performance.watch import CHANNELS, SLOTS, SPAN_S, Watch


def filled(seconds: int, hz: float, channel: str = "high/pressure", slope: float = 0.0) -> Watch:
    watch = Watch()
    for number in range(int(seconds * hz)):
        watch = watch.take(1.8e9 + number / hz, channel, 15e5 + slope * number / hz)
    return watch


@pytest.mark.parametrize("hz", [0.5, 1.0, 5.0])
def test_the_mean_is_over_the_last_minutes_at_any_rate(hz: float) -> None:
    mean = filled(600, hz, slope=1e3).mean("high/pressure")
    assert mean is not None
    assert mean == pytest.approx(15e5 + 1e3 * (600.0 - SPAN_S / 2.0), abs=5e3)


def test_settled_needs_two_minutes_that_stand_still() -> None:
    assert filled(130, 1.0).settled()
    assert not filled(60, 1.0).settled()
    assert not filled(300, 1.0, slope=3e3).settled()
    assert not Watch().settled()


def test_what_is_not_a_reading_changes_nothing() -> None:
    watch = filled(10, 1.0)
    assert watch.take(1.8e9 + 11.0, "scale/mass", 1.0) is watch
    assert watch.take(1.8e9 + 11.0, "high/pressure", math.nan) is watch
    assert watch.take(1.8e9 - 60.0, "high/pressure", 9e5) is watch
    assert watch.take(1.8e9 + 11.0, "high/pressure", 9e5) is not watch


def test_the_watch_is_bounded() -> None:
    assert all(len(slots) <= SLOTS for slots in filled(2000, 1.0).slots.values())


def test_a_channel_that_fell_silent_is_unknown() -> None:
    watch = filled(60, 1.0)
    for number in range(60, 500):
        watch = watch.take(1.8e9 + number, "low/pressure", 3e5)
    assert watch.mean("high/pressure") is None
    assert watch.given().high_abs_pa is None
    assert watch.given().low_abs_pa == pytest.approx(3e5)


def test_the_barometer_is_the_read_one_or_the_given_one() -> None:
    assert filled(10, 1.0).given(9e4).barometer_pa == 9e4
    assert filled(10, 1.0).take(1.8e9 + 10.0, "ambient/pressure", 8.5e4).given(9e4).barometer_pa == 8.5e4
    assert set(CHANNELS.values()) >= {"low_abs_pa", "high_abs_pa", "vent_k"}
