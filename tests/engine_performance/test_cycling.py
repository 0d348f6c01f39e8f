"""Cycling from the low pressure: saw-teeth of known rate and duty, hunting, noise, and both halves of each rule."""

from __future__ import annotations

import random

import pytest

from fillmark.engine.performance.cycling import TURNS_KEPT, Cycling, Rhythm


def saw_tooth(time_s: float, period_s: float, duty: float, low: float = 2.6e5, high: float = 4.1e5) -> float:
    """The low pressure of a compressor that runs for `duty` of each period."""
    phase = (time_s / period_s) % 1.0
    return high - (high - low) * phase / duty if phase < duty else low + (high - low) * (phase - duty) / (1.0 - duty)


def watched(
    period_s: float, duty: float, *, hz: float = 1.0, noise: float = 0.0, seed: int = 1, **ends: float
) -> Rhythm:
    luck, state = random.Random(seed), Cycling()
    for number in range(int(240 * hz)):
        at = number / hz
        state = state.take(at, saw_tooth(at, period_s, duty, **ends) + luck.gauss(0.0, noise))
    return state.rhythm()


@pytest.mark.parametrize(("period_s", "duty"), [(15.0, 0.4), (30.0, 0.6), (60.0, 0.3)])
@pytest.mark.parametrize("noise", [0.0, 2e3])
@pytest.mark.parametrize("hz", [0.5, 1.0, 5.0])
def test_rate_duty_and_ends_of_a_known_saw_tooth(period_s: float, duty: float, noise: float, hz: float) -> None:
    rhythm = watched(period_s, duty, noise=noise, hz=hz)
    assert rhythm.cycling
    assert rhythm.rate_per_min == pytest.approx(60.0 / period_s, rel=0.05)
    assert rhythm.duty == pytest.approx(duty, abs=0.08)
    # A slow probe clips the tips by what a tooth moves between readings.
    clipped = 1.5e5 / (min(duty, 1.0 - duty) * period_s) / hz + 3.0 * noise
    assert rhythm.cut_out_abs_pa == pytest.approx(2.6e5, abs=clipped + 1.0)
    assert rhythm.cut_in_abs_pa == pytest.approx(4.1e5, abs=clipped + 1.0)


def test_a_steady_or_hunting_low_side_does_not_cycle() -> None:
    assert not watched(30.0, 0.5, noise=3e3, low=3.0e5, high=3.0e5).cycling
    assert not watched(30.0, 0.5, noise=2e3, low=2.8e5, high=3.25e5).cycling
    assert watched(30.0, 0.5, noise=2e3, low=2.5e5, high=3.25e5).cycling


def test_half_a_cycle_is_not_a_rate() -> None:
    rhythm = watched(400.0, 0.5)
    assert rhythm.rate_per_min is None
    assert rhythm.duty is None
    assert rhythm.watched_s == pytest.approx(239.0)


def test_the_state_is_bounded_and_takes_no_step_back() -> None:
    state = Cycling()
    for number in range(4000):
        state = state.take(float(number), saw_tooth(float(number), 8.0, 0.5))
    assert len(state.turns) <= TURNS_KEPT
    assert state.take(3999.0, 9e5) is state
    assert state.take(10.0, 9e5) is state
    assert state.take(4000.0, 9e5) is not state


def test_old_cycling_is_forgotten() -> None:
    state = Cycling()
    for number in range(120):
        state = state.take(float(number), saw_tooth(float(number), 20.0, 0.5))
    assert state.rhythm().cycling
    for number in range(120, 520):
        state = state.take(float(number), 3.0e5)
    assert not state.rhythm().cycling
