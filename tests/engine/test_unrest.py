"""What an indication scatters by, against numpy's normal deviates and waves of known size; and what is not unrest."""

from __future__ import annotations

import math
from collections.abc import Callable
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np
import pytest

from fillmark.engine.events import ExplainStep
from fillmark.engine.weighing import unrest
from fillmark.engine.weighing.unrest import NO_UNREST, Unrest

if TYPE_CHECKING:
    from tests.engine.conftest import MakeBench

STEP = 1e-3
FLOW = 3e-3

Disturbance = Callable[[float], float]


def _seen(disturbance: Disturbance, *, seconds: int = 60, hz: float = 1.0) -> Unrest:
    """What is seen of a container that loses FLOW, on a scale of 1 g."""
    one = NO_UNREST
    for index in range(int(seconds * hz)):
        time_s = index / hz
        shown = 1.5 - FLOW * time_s + disturbance(time_s)
        one = one.seen(time_s, round(shown / STEP) * STEP, STEP)
    return one


def test_the_constant_is_that_of_the_normal_distribution() -> None:
    """The quartile of the standard normal distribution, by Python's `statistics`."""
    assert pytest.approx(NormalDist().inv_cdf(0.75), abs=1e-4) == unrest.MEDIAN_OF_NORMAL


@pytest.mark.parametrize("sigma", [2e-3, 4e-3, 6e-3])
def test_white_noise_is_found_by_its_standard_deviation(sigma: float) -> None:
    """The greatest of three lags is somewhat more than each: 30 % over 200 draws of numpy's generator."""
    rng = np.random.default_rng(7)
    found = [_seen(lambda _: rng.normal(0.0, sigma)).rms_kg for _ in range(200)]
    assert 1.0 <= float(np.mean(found)) / sigma <= 1.3


@pytest.mark.parametrize("period_s", [3.3, 5.0, 8.0, 12.0])
@pytest.mark.parametrize("hz", [0.5, 2.0, 10.0])
def test_a_wave_is_found_within_a_factor_of_2_6(period_s: float, hz: float) -> None:
    """A wave of amplitude A has the root mean square A/√2."""
    swing = 5e-3
    found = _seen(lambda t: swing * math.cos(2.0 * math.pi * t / period_s), seconds=120, hz=hz)
    assert 1.0 / 2.6 <= found.rms_kg / (swing / math.sqrt(2.0)) <= 2.6


@pytest.mark.parametrize(
    "disturbance",
    [
        lambda _: 0.0,
        lambda t: 0.2 if t > 30.0 else 0.0,
        lambda t: -0.03 * min(max(t - 20.0, 0.0), 5.0) / 5.0 if t < 40.0 else 0.0,
        lambda t: 5e-3 * math.sin(2.0 * math.pi * t / 40.0),
        lambda t: FLOW * (6.0 * (t // 12.0) + min(t % 12.0, 6.0)),
        lambda t: 0.1 * math.cos(2.0 * math.pi * t / 4.0),
    ],
    ids=[
        "nothing but flow",
        "a tool laid down",
        "a hose that pulls",
        "a flow that swings slowly",
        "a compressor that cycles",
        "a hand that rocks",
    ],
)
def test_what_is_no_unrest(disturbance: Disturbance) -> None:
    assert _seen(disturbance).rms_kg == 0.0


def test_what_a_bench_is_known_for_stands_until_it_is_seen_anew() -> None:
    shaken = _seen(lambda t: 5e-3 * math.cos(2.0 * math.pi * t / 4.0))
    other = shaken.afresh()
    assert other.rms_kg == shaken.rms_kg > 0.0
    for index in range(unrest.ENOUGH):
        assert other.rms_kg == shaken.rms_kg
        other = other.seen(float(index), 1.0, STEP)
    assert other.rms_kg == 0.0


@pytest.mark.parametrize("period_s", [3.3, 5.0, 7.0])
@pytest.mark.parametrize("swing", [2e-3, 5e-3])
def test_on_a_shaking_bench_the_mass_is_right_within_what_is_said(
    make_bench: MakeBench, period_s: float, swing: float
) -> None:
    """Before, a wave of 5 g was taken for pulls and flow in turn, and the mass was tens of grams off by the end."""
    bench = make_bench(window=(0.48, 0.52)).ready(gross=1.5)
    bench.valve("low", is_open=True)
    out = 1.5
    while bench.load_kg > out - 0.45:
        bench.extra_kg = swing * math.cos(2.0 * math.pi * bench.now / period_s)
        bench.run(0.2, flow=2.5e-3)
    pan = bench.job.course.pan
    drawn = out - bench.load_kg
    shown = bench.job.picture.dispensed
    assert abs(shown.mass_kg - drawn) <= 2.0 * shown.u_kg
    assert shown.u_kg <= 2.5 * swing
    assert pan.offset_kg == 0.0
    assert bench.active == {"scale-unsteady"}


def test_what_the_technician_has_explained_stays_explained_on_a_shaking_bench(make_bench: MakeBench) -> None:
    """A tool of 20 g lies on the pan and was said to; the shaking that is found afterwards does not make it mass."""
    bench = make_bench().ready(gross=1.5)
    bench.valve("low", is_open=True)
    bench.run(6.0, flow=2e-3)
    begun = bench.now
    while bench.now < begun + 60.0:
        bench.extra_kg = 0.02 + 5e-3 * math.cos(2.0 * math.pi * bench.now / 3.3) * (bench.now > begun + 8.0)
        bench.run(0.2, flow=2e-3)
        if begun + 6.0 <= bench.now < begun + 6.2:
            bench.feed(ExplainStep(bench.clock, "handling"))
    assert bench.job.course.pan.unrest.rms_kg > 0.0
    assert abs(bench.job.picture.dispensed.mass_kg - (1.5 - bench.load_kg)) <= 2.0 * bench.job.picture.dispensed.u_kg
    assert bench.job.picture.dispensed.u_kg <= 10e-3


def test_what_was_in_doubt_at_the_start_stays_in_doubt_when_the_bench_calms(make_bench: MakeBench) -> None:
    bench = make_bench(window=(0.48, 0.52)).open_job()
    bench.begin()
    bench.mount(gross=1.5)
    while bench.now < 60.0:
        bench.extra_kg = 5e-3 * math.cos(2.0 * math.pi * bench.now / 3.3)
        bench.run(0.2, flow=2e-3 if bench.now > 10.0 else 0.0)
        if bench.now == pytest.approx(10.0):
            bench.valve("low", is_open=True)
    bench.extra_kg = 0.0
    bench.run(90.0, flow=2e-3)
    shown = bench.job.picture.dispensed
    assert bench.job.course.pan.unrest.rms_kg == 0.0
    assert shown.u_kg >= 3e-3
    assert abs(shown.mass_kg - (1.5 - bench.load_kg)) <= 2.0 * shown.u_kg


def test_a_bench_that_begins_to_shake_later_takes_nothing_back_of_what_was_known(make_bench: MakeBench) -> None:
    """Half the charge goes in with the engine off, on a firm bench; then the engine is started and shakes it."""
    bench = make_bench().ready(gross=1.5)
    bench.valve("low", is_open=True)
    bench.run(95.0, flow=2.5e-3)
    start_var = bench.job.course.containers["C1"].start_var
    bench.valve("low", is_open=False)
    bench.run(20.0)
    bench.valve("low", is_open=True)
    begun = bench.now
    while bench.now < begun + 60.0:
        bench.extra_kg = 6e-3 * math.cos(2.0 * math.pi * bench.now / 3.7)
        bench.run(0.2, flow=2e-3)
    assert bench.job.course.pan.unrest.rms_kg > 0.0
    bench.extra_kg = 0.0
    bench.run(60.0, flow=2e-3)
    shown = bench.job.picture.dispensed
    assert abs(shown.mass_kg - (1.5 - bench.load_kg)) <= 2.0 * shown.u_kg
    assert shown.u_kg <= 1e-3
    assert bench.job.course.containers["C1"].start_var == start_var
