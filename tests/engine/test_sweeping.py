"""Liquid that vapour pushes out of a hose, against its limits."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.engine.hold_up import NOTHING, HoldUp
from fillmark.engine.sweeping import NO_SWEEP, Sweep

HOSE = Sweep(HoldUp(0.040, 1e-3), 10.0, 8e-3)
"""40 g, and a port that lets 8 g/s through: five seconds' worth."""


def test_in_the_time_that_it_takes_a_third_is_left() -> None:
    assert HOSE.left(10.0).mass_kg == pytest.approx(0.040)
    assert HOSE.left(15.0).mass_kg == pytest.approx(0.040 * math.exp(-1.0))
    assert HOSE.left(40.0).mass_kg == pytest.approx(0.0, abs=1e-9)


def test_a_hose_with_nothing_in_it_has_nothing_to_give() -> None:
    assert NO_SWEEP.left(1e9) == NOTHING


def test_without_vapour_nothing_goes() -> None:
    assert HOSE.left(60.0, 0.0).mass_kg == pytest.approx(0.040)
    assert HOSE.left(60.0, 2e-3).mass_kg == pytest.approx(0.040 * math.exp(-1.0))  # 2 g have the room of 40 g of liquid


def test_what_cannot_push_any_more_leaves_the_rest() -> None:
    """Pressures that are equal once 20 g have gone: some of it stays for ever, and nobody knows how much so well."""
    ends = Sweep(HOSE.wet, 10.0, 8e-3, 0.020)
    at_last = ends.left(1000.0)
    assert at_last.mass_kg == pytest.approx(0.040 * math.exp(-0.25))
    assert at_last.u_kg > 5e-3
    assert Sweep(HOSE.wet, 10.0, 8e-3, 0.0).left(1000.0).mass_kg == pytest.approx(0.040)


@given(
    wet=st.floats(1e-6, 0.2),
    rate=st.floats(1e-4, 0.05),
    most=st.floats(0.0, 1.0) | st.just(math.inf),
    after=st.floats(0.0, 1e4),
    more=st.floats(0.0, 1e4),
)
def test_it_only_grows_less(wet: float, rate: float, most: float, after: float, more: float) -> None:
    sweep = Sweep(HoldUp(wet, 0.01 * wet), 0.0, rate, most)
    early, late = sweep.left(after), sweep.left(after + more)
    assert 0.0 <= late.mass_kg <= early.mass_kg + 1e-12
    assert early.mass_kg <= wet
    assert 0.0 <= late.u_kg < wet


def test_before_it_began_nothing_has_gone() -> None:
    assert HOSE.left(5.0).mass_kg == pytest.approx(0.040)


def test_what_was_stopped_has_so_much_less_to_push() -> None:
    ends = Sweep(HOSE.wet, 10.0, 8e-3, 0.020)
    left = ends.left(1000.0)
    rest = ends.stopped(left)
    assert rest.wet == left
    assert rest.most_kg == pytest.approx(0.020 - (0.040 - left.mass_kg))
