"""Whether a flow that left its pace did so, by the pressure that it works against. By hand, and with a bench.

A container at 20 °C has 6 bar here, the circuit 3 bar: p² - q² is 27 bar². At 5.25 bar in the circuit 8.4 are left, and
√(8.4 / 27) = 56 % of the flow; at 1 bar it is 35, and 14 % more.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest

from fillmark.engine.swerves import EVERY_S, KEPT_S, NONE_READ, Pressures

if TYPE_CHECKING:
    from tests.engine.conftest import Bench, MakeBench

CONTAINER_PA = 6e5
STILL_PA = 3e5
RISEN_PA = 5.25e5
FLOW = 2.7e-3


def _flicker_pa(second: int) -> float:
    return (-1.0) ** second * 2e2


def _read(*pressures_pa: float) -> Pressures:
    """A reading a second, from 0 s on, whose last digit flickers."""
    read = NONE_READ
    for second, pressure_pa in enumerate(pressures_pa):
        read = read.read(float(second), pressure_pa + _flicker_pa(second))
    return read


def _thirds(*bars: float) -> Pressures:
    return _read(*(1e5 * bar for bar in bars for _ in range(4)))


@pytest.mark.parametrize("missing", [0.5, -0.5])
def test_where_the_pressure_only_flickers_something_leant_on_the_pan(missing: float) -> None:
    read = _read(*(STILL_PA + 4.0 * _flicker_pa(second) for second in range(12)))
    assert read.leant_on(0.0, 11.0, CONTAINER_PA, missing) is True


@pytest.mark.parametrize(
    ("bars", "missing", "leant"),
    [
        ((3.0, 5.25, 3.0), 0.5, False),  # a half is missing, and nearly as much explained
        ((3.0, 5.25, 3.0), 0.8, False),  # more than a half of what is missing is
        ((3.0, 3.3, 3.0), 0.5, None),  # a compressor cycles, which explains a twentieth
        ((3.0, 2.98, 2.90), 0.5, None),  # a pinched hose: the compressor draws the circuit down
        ((3.0, 2.99, 2.98), 0.5, True),
        ((3.0, 1.0, 3.0), -0.2, False),  # too much has come, and more than half of that is explained
        ((3.0, 3.1, 3.1), -0.2, None),  # a valve has been opened wider
    ],
)
def test_what_the_pressure_tells(bars: tuple[float, ...], missing: float, leant: bool | None) -> None:
    assert _thirds(*bars).leant_on(0.0, 11.99, CONTAINER_PA, missing) is leant


def test_nobody_knows_where_a_third_of_the_time_was_not_read_or_nothing_drives_the_flow() -> None:
    assert _read(*(STILL_PA,) * 8).leant_on(0.0, 12.0, CONTAINER_PA, 0.5) is None
    assert NONE_READ.leant_on(0.0, 12.0, CONTAINER_PA, 0.5) is None
    assert _thirds(6.1, 6.1, 6.1).leant_on(0.0, 11.99, CONTAINER_PA, 0.5) is None


@pytest.mark.parametrize("bars", [(3.0,) * 12, (3.0,) * 6 + (3.1,) * 6])
def test_a_gauge_that_stands_on_one_digit_or_has_coarse_ones_shows_nothing(bars: tuple[float, ...]) -> None:
    read = NONE_READ
    for second, bar in enumerate(bars):
        read = read.read(float(second), 1e5 * bar)
    assert read.leant_on(0.0, 11.99, CONTAINER_PA, 0.5) is None


def test_no_more_is_kept_than_is_asked_for() -> None:
    read = NONE_READ
    for tenth in range(1000):
        read = read.read(tenth / 10.0, STILL_PA)
    assert len(read.readings) <= KEPT_S / EVERY_S + 1
    assert read.readings[-1][0] - read.readings[0][0] <= KEPT_S


def _run(bench: Bench, seconds: int, *, flow: float = FLOW, low_pa: float | None = STILL_PA) -> None:
    """The bench for so many seconds, with a gauge whose last digit flickers; without one."""
    for second in range(seconds):
        if low_pa is not None:
            bench.probes["low/pressure"] = low_pa + _flicker_pa(second)
        bench.run(1.0, flow=flow)


def _open(make: MakeBench, *, hz: float = 5.0, low_pa: float | None = STILL_PA, runs: bool = True) -> Bench:
    bench = make(hz=hz, hose=None).ready(gross=1.0)
    bench.probes = {"container/temperature": 20.0}
    if runs:
        bench.engine(running=True)
    bench.valve("low", is_open=True)
    _run(bench, 60, low_pa=low_pa)
    return bench


def _lean(bench: Bench, mass_kg: float, over_s: int) -> None:
    was_kg = bench.extra_kg
    for second in range(over_s):
        bench.extra_kg = was_kg + (mass_kg - was_kg) * (second + 1.0) / over_s
        _run(bench, 1, low_pa=STILL_PA + _flicker_pa(second))


def _off_kg(bench: Bench) -> float:
    return bench.job.picture.dispensed.mass_kg - (1.0 - bench.load_kg)


@pytest.mark.parametrize(("lean_kg", "over_s"), [(0.012, 5), (0.010, 4), (-0.012, 5)])
def test_what_leans_on_the_pan_at_the_pace_of_the_flow_is_no_pause_where_the_pressure_stands_still(
    lean_kg: float, over_s: int, make_bench: MakeBench
) -> None:
    bench = _open(make_bench)
    _lean(bench, lean_kg, over_s)
    _run(bench, 20)
    assert abs(_off_kg(bench)) <= 4e-3
    assert "scale-disturbed" in bench.active
    bench.extra_kg = 0.0
    _run(bench, 20)
    assert abs(_off_kg(bench)) <= 1.5e-3
    assert "scale-disturbed" not in bench.active


def test_a_pause_in_which_the_pressure_rises_is_one(make_bench: MakeBench) -> None:
    bench = _open(make_bench)
    _run(bench, 5, flow=0.0, low_pa=RISEN_PA)
    _run(bench, 20)
    assert abs(_off_kg(bench)) <= 1.5e-3
    assert "scale-disturbed" not in bench.active


@pytest.mark.parametrize("flow", [2.7e-3, 5e-3, 8e-3])
@pytest.mark.parametrize("pause_s", [5, 7])
def test_a_pause_that_no_gauge_shows_is_within_the_doubt(flow: float, pause_s: int, make_bench: MakeBench) -> None:
    bench = make_bench(hose=None).ready(gross=1.5)
    bench.probes = {"container/temperature": 20.0}
    bench.engine(running=True)
    bench.valve("low", is_open=True)
    _run(bench, 60, flow=flow)
    _run(bench, pause_s, flow=0.0)
    _run(bench, 20, flow=flow)
    shown = bench.job.picture.dispensed
    assert abs(shown.mass_kg - (1.5 - bench.load_kg)) <= 2.0 * shown.u_kg


@pytest.mark.parametrize(("low_pa", "runs"), [(None, True), (STILL_PA, False)])
def test_where_nobody_knows_a_pause_is_believed(low_pa: float | None, runs: bool, make_bench: MakeBench) -> None:
    """No gauge, or a compressor that stands and draws nothing down when a valve is throttled."""
    bench = _open(make_bench, low_pa=low_pa, runs=runs)
    _run(bench, 5, flow=0.0, low_pa=low_pa)
    _run(bench, 20, low_pa=low_pa)
    assert abs(_off_kg(bench)) <= 1.5e-3


def test_an_engine_that_was_off_meanwhile_tells_nothing(make_bench: MakeBench) -> None:
    bench = _open(make_bench)
    bench.engine(running=False)
    _run(bench, 4, flow=0.0)
    bench.engine(running=True)
    _run(bench, 20)
    assert abs(_off_kg(bench)) <= 1.5e-3


def test_a_pressure_from_before_a_valve_was_turned_tells_nothing(make_bench: MakeBench) -> None:
    bench = _open(make_bench)
    bench.valve("low", is_open=False)
    assert not bench.job.course.pressures.readings


def test_what_swings_again_and_again_is_not_leant_on(make_bench: MakeBench) -> None:
    """A bench that shakes so slowly that nobody can tell it from a flow that swings: the offsets must not add up."""
    bench = _open(make_bench)
    for _ in range(10):
        _lean(bench, 0.012, 5)
        _run(bench, 3)
        _lean(bench, 0.0, 9)
        _run(bench, 3)
    assert abs(_off_kg(bench)) <= min(15e-3, 2.0 * bench.job.picture.dispensed.u_kg)


def test_on_a_bench_that_was_found_to_shake_nothing_is_known(make_bench: MakeBench) -> None:
    """A wave of 6 g, then a minute's rest, then a pause of the flow: it is believed, as where nobody reads a gauge."""
    bench = _open(make_bench)
    for fifth in range(200):
        bench.extra_kg = 6e-3 * math.cos(2.0 * math.pi * fifth / 5.0 / 3.7)
        bench.probes["low/pressure"] = STILL_PA + _flicker_pa(fifth)
        bench.run(0.2, flow=FLOW)
    assert bench.job.course.pan.unrest.shook
    bench.extra_kg = 0.0
    _run(bench, 60)
    before_kg = _off_kg(bench)
    _run(bench, 5, flow=0.0)
    _run(bench, 20)
    assert abs(_off_kg(bench) - before_kg) <= 3e-3


def test_a_true_pause_excuses_no_loss(make_bench: MakeBench) -> None:
    """What lifts the container by as much as the pause kept back does not undo it: nothing had leant on the pan."""
    bench = _open(make_bench)
    _run(bench, 5, flow=0.0, low_pa=RISEN_PA)
    _run(bench, 30)
    bench.extra_kg = -5.0 * FLOW
    _run(bench, 20)
    assert abs(_off_kg(bench)) <= 4e-3
    assert "scale-disturbed" in bench.active
