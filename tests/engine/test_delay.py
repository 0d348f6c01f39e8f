"""How late indications are: what can be told from receipts and measurements, and what cannot."""

from __future__ import annotations

import math
import random
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.engine.delay import KEPT_S, MOST_KEPT, MOST_WAY_S, NO_DELAY, Delay

START_S = 1_800_000_000.0
WAYS = st.lists(st.floats(0.0, 2.0), min_size=1, max_size=60)


def _heard(ways: list[float], clock_s: float = 0.0, every_s: float = 1.0) -> Delay:
    """Deliveries that took so long, by devices whose clock is `clock_s` ahead."""
    delay = NO_DELAY
    for number, way_s in enumerate(ways):
        received_s = START_S + number * every_s
        delay = delay.heard(received_s, received_s - way_s + clock_s)
    return delay


def test_before_the_first_delivery_nothing_is_known() -> None:
    assert (NO_DELAY.usual_s, NO_DELAY.high_s, NO_DELAY.sentence()) == (None, None, None)
    assert NO_DELAY.age_s(START_S + 2.0, START_S) == 2.0


@given(ways=WAYS)
def test_least_median_and_high_quantile(ways: list[float]) -> None:
    delay = _heard(ways)
    assert delay.least_s == pytest.approx(min(ways), abs=1e-6)
    assert delay.usual_s == pytest.approx(statistics.median(ways), abs=1e-6)
    assert delay.high_s is not None
    assert sum(way <= delay.high_s + 1e-6 for way in ways) >= 0.95 * len(ways)


@given(ways=WAYS, clock_s=st.floats(-30.0, 30.0))
def test_the_way_of_the_call_does_not_depend_on_the_clocks(ways: list[float], clock_s: float) -> None:
    apart, together = _heard(ways, clock_s), _heard(ways)
    assert apart.way_s == pytest.approx(together.way_s, abs=1e-5)
    assert apart.way_u_s == pytest.approx(together.way_u_s, abs=1e-5)
    assert 0.0 <= apart.way_s <= MOST_WAY_S


@given(ways=WAYS, clock_s=st.floats(-30.0, 30.0))
def test_an_age_is_too_long_rather_than_too_short_by_no_more_than_it_says(ways: list[float], clock_s: float) -> None:
    """Rectangular from nothing to the least delay: JCGM 100:2008, section 4.3.7. Its far end lies at √3 u."""
    delay = _heard(ways, clock_s)
    age_s = delay.age_s(START_S + 100.0, START_S + clock_s)
    wrong_s = age_s - 100.0
    if clock_s > 0.0:  # ahead: nobody can see more of it than the fastest indication shows
        assert -min(ways) - 1e-5 <= wrong_s <= 1e-5
    else:
        assert wrong_s == pytest.approx(-clock_s, abs=1e-5)
        assert wrong_s <= math.sqrt(3.0) * delay.age_u_s + 1e-5


def test_a_clock_ahead_is_proven_by_what_arrives_before_it_was_measured() -> None:
    delay = _heard([0.1, 0.2, 0.1], clock_s=2.1)
    assert delay.apart_s == pytest.approx(2.0)
    assert delay.sentence() == "The devices' clock is ahead by 2.00 s or more; set the clocks."
    assert _heard([0.1, 0.3]).sentence() == "Readings arrive after 0.20 s, 95 of 100 within 0.30 s."


def test_a_backlog_after_an_outage_does_not_look_like_the_usual_way() -> None:
    """Ten minutes of readings that come within two seconds are two of some sixty looks."""
    rng, delay = random.Random(3), NO_DELAY
    for second in range(60):
        delay = delay.heard(START_S + second, START_S + second - 0.1 - 0.05 * rng.random())
    back_s = START_S + 660.0
    for pack in range(40):
        delay = delay.heard(back_s + 0.05 * pack, START_S + 60.0 + 15.0 * pack)
    for second in range(2, 60):
        delay = delay.heard(back_s + second, back_s + second - 0.12)
    assert delay.usual_s == pytest.approx(0.12, abs=0.05)
    assert delay.least_s == pytest.approx(0.12, abs=1e-3)


def test_what_is_long_ago_is_forgotten_and_no_more_is_kept_than_needed() -> None:
    old = _heard([5.0] * 10)
    fresh = old.heard(START_S + KEPT_S + 60.0, START_S + KEPT_S + 59.9)
    assert len(fresh.kept) == 1
    assert fresh.least_s == pytest.approx(0.1, abs=1e-6)
    assert len(_heard([0.1] * (3 * MOST_KEPT)).kept) == MOST_KEPT


def test_one_delivery_a_second_is_looked_at_however_often_they_come() -> None:
    assert len(_heard([0.1] * 100, every_s=0.1).kept) == 10
