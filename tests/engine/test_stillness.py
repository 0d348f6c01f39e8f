"""What is known of an indication at rest, against numpy's normal deviates, Sheppard's correction and brute force."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest

from fillmark.engine.weighing import stillness
from fillmark.engine.weighing.stillness import NEVER_STILL, Stillness

if TYPE_CHECKING:
    from tests.engine.conftest import Bench, MakeBench

STEP = 1e-3
FLOOR = STEP * STEP / 12.0


def _read(shown: list[float]) -> Stillness:
    one = NEVER_STILL
    for kg in shown:
        one = one.read(kg, STEP)
    return one


def _even(count: int) -> list[float]:
    return [1.0] * (2 + count)


def _shown(rng: np.random.Generator, load_kg: float, noise_kg: float, count: int) -> list[float]:
    return [round((load_kg + float(rng.normal(0.0, noise_kg))) / STEP) * STEP for _ in range(count)]


def test_the_noise_of_an_indication_is_found_within_5_percent() -> None:
    """Sheppard's correction: rounding adds r²/12 to the variance of what is not much finer than the step."""
    rng = np.random.default_rng(11)
    noise = 0.45 * STEP
    found = [_read(_shown(rng, 1.0 + rng.uniform(0.0, STEP), noise, 400)).ever.var(0.0) for _ in range(50)]
    assert float(np.mean(found)) == pytest.approx(noise**2 + FLOOR, rel=0.05)


def test_neither_drift_nor_the_end_of_the_way_to_rest_is_noise() -> None:
    """A step in a minute, and the last 10 g of a lag of 0.8 s: both with 5 readings a second."""
    slow = _read([round((1.0 + STEP * n / 300.0) / STEP) * STEP for n in range(600)])
    assert slow.ever.var(0.0) <= STEP**2 / 500.0
    settles = _read([round((1.0 - 0.01 * math.exp(-n / 4.0)) / STEP) * STEP for n in range(40)])
    assert settles.rounding_var(STEP) >= 0.6 * FLOOR


def test_before_enough_was_seen_noise_is_taken_to_be_as_much_as_the_rounding() -> None:
    """Then only the rounding of what stands on its step."""
    assert NEVER_STILL.reading_var(STEP) == pytest.approx(2.0 * FLOOR)
    halfway = _read(_even(int(stillness.READINGS) // 2))
    assert halfway.reading_var(STEP) == pytest.approx(1.5 * FLOOR)
    assert _read(_even(int(stillness.READINGS))).reading_var(STEP) == pytest.approx(FLOOR)


def test_what_jumps_is_no_flicker() -> None:
    jumped = _read([1.0] * 20 + [1.2] * 20)
    assert jumped.ever.var(0.0) == 0.0
    assert jumped.now.count == 18


@pytest.mark.parametrize("noise", [0.05, 0.1, 0.2, 0.3, 0.4])
def test_the_mean_of_a_flickering_digit_is_as_sure_as_is_said(noise: float) -> None:
    """2,000 loads anywhere between two steps, 200 readings each: (2) is never too small, nor four times too large.

    With much noise only the mean's own scatter is left, which the filter reckons.
    """
    rng = np.random.default_rng(12)
    squares, said = 0.0, 0.0
    for _ in range(2000):
        load = rng.uniform(0.0, 1.0)
        z = np.round(load + rng.normal(0.0, noise, 200))
        squares += float(np.mean(z) - load) ** 2
        flicker = stillness.Seen(float(np.sum(np.diff(z, n=2) ** 2)) / 6.0, 198.0)
        said += Stillness(now=flicker).rounding_var(1.0) + float(np.var(z)) / 200.0
    assert 1.0 <= math.sqrt(said / squares) <= 4.0


def test_a_digit_that_stands_is_rounded_and_one_that_flickers_evenly_is_not() -> None:
    assert _read([1.0] * 30).rounding_var(STEP) == pytest.approx(FLOOR)
    rng = np.random.default_rng(13)
    even = _read([1.0 + STEP * float(rng.integers(0, 2)) for _ in range(2000)])
    assert even.rounding_var(STEP) <= 0.1 * FLOOR
    assert NEVER_STILL.rounding_var(STEP) == pytest.approx(FLOOR)
    assert even.anew().reading_var(STEP) == even.reading_var(STEP)


def test_a_digit_that_stands_on_a_scale_that_flickers_lies_far_from_the_next() -> None:
    """2,000 scales of an unknown noise up to 0.4 steps, two loads each of 200 readings: where the first flickers and
    the second does not, the second is known to what is said, or better.
    """
    rng = np.random.default_rng(15)
    squares, said = [], []
    for _ in range(2000):
        noise = rng.uniform(0.0, 0.4) * STEP
        load_kg = 2.0 + rng.uniform(0.0, STEP)
        before = _read(_shown(rng, 1.0 + rng.uniform(0.0, STEP), noise, 200))
        then = _shown(rng, load_kg, noise, 200)
        if before.ever.var(0.0) > 0.05 * STEP**2 and len(set(then)) == 1:
            now = before.anew()
            for kg in then:
                now = now.read(kg, STEP)
            squares.append((then[0] - load_kg) ** 2)
            said.append(now.rounding_var(STEP))
    assert len(said) > 60
    assert 1.0 <= math.sqrt(sum(said) / sum(squares)) <= 2.5
    assert max(said) < 0.75 * FLOOR


@pytest.mark.parametrize(
    ("told", "at", "is_still"),
    [
        ([(1.0, True), (2.0, True)], 2.0, False),
        ([(1.0, False), (2.0, True)], 2.5, True),
        ([(1.0, False), (2.0, True)], 2.0 + 1.01 * stillness.FRESH_S, False),
        ([(1.0, False), (2.0, True), (3.0, False)], 3.0, False),
    ],
    ids=["never seen to fall", "fell once", "long ago", "moves"],
)
def test_when_a_scale_that_says_no_motion_is_believed(
    told: list[tuple[float, bool]], at: float, *, is_still: bool
) -> None:
    one = NEVER_STILL
    for time_s, still in told:
        one = one.told(time_s, still=still)
    assert one.is_still(at) is is_still


def _shut_for(make: MakeBench, seconds: float, *, flags: tuple[float, ...]) -> Bench:
    """A container drawn from and shut for a while; the scale's flag while open, and since."""
    bench = make(hz=1.0).ready(gross=1.0)
    bench.valve("container", is_open=True)
    bench.valve("low", is_open=True)
    bench.probes = {"scale/stable": flags[0]} if flags else {}
    bench.run(60.0, flow=2e-3)
    bench.valve("low", is_open=False)
    bench.probes = {"scale/stable": flags[-1]} if flags else {}
    bench.run(4.0)
    bench.valve("container", is_open=False)
    bench.run(seconds)
    return bench


@pytest.mark.parametrize("flags", [(), (1.0, 1.0), (0.0, 0.0)], ids=["none", "never falls", "never rises"])
def test_the_hand_on_the_valve_is_doubted_until_the_scale_says_no_motion(
    make_bench: MakeBench, flags: tuple[float, ...]
) -> None:
    """Common practice, no source: the hand lets go within seconds. A flag that is stuck changes nothing."""
    told = _shut_for(make_bench, 2.0, flags=(0.0, 1.0)).job.course.pan
    not_told = _shut_for(make_bench, 2.0, flags=flags).job.course.pan
    assert told.estimate is not None
    assert not_told.estimate is not None
    assert told.estimate.var_mass <= FLOOR
    assert not_told.estimate.var_mass >= 1.5 * told.estimate.var_mass
    assert not_told.mass_kg == pytest.approx(told.mass_kg, abs=0.5 * STEP)


def test_hands_after_the_last_reading_do_not_change_what_a_container_weighs(make_bench: MakeBench) -> None:
    """It is taken off between two readings of a slow scale: what was weighed stands."""
    bench = _shut_for(make_bench, 3.0, flags=())
    before = bench.job.picture.dispensed
    bench.now += 0.45
    bench.unmount()
    after = bench.job.picture.dispensed
    assert after.mass_kg == pytest.approx(before.mass_kg, abs=0.01 * STEP)
    assert after.u_kg <= 1.01 * before.u_kg


def test_a_scale_that_flickers_weighs_better_than_one_that_stands(make_bench: MakeBench) -> None:
    """Load exactly between two steps: the noise of the scale tells so."""
    u = {}
    for flickers in (False, True):
        bench = make_bench(hz=5.0, hose=None).open_job()
        bench.begin()
        bench.mount(gross=1.0)
        for n in range(60):
            bench.extra_kg = 0.7 * STEP if flickers and n % 3 == 0 else 0.0
            bench.run(0.2)
        u[flickers] = bench.job.course.pan.mass_u_kg
    assert u[False] == pytest.approx(math.sqrt(FLOOR), rel=0.01)
    assert u[True] < 0.8 * u[False]
