"""What leans on the pan or pulls at it, comes and goes: none of it is flow, and what flowed meanwhile is not lost."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from fillmark.engine.setup import Hose

if TYPE_CHECKING:
    from tests.engine.conftest import Bench, MakeBench

FLOW = 2e-3


def _open(make: MakeBench, *, hz: float = 5.0, resolution: float = 1e-3, gross: float = 1.0) -> Bench:
    bench = make(hz=hz, resolution=resolution, hose=None).ready(gross=gross)
    bench.run(4.0)
    bench.valve("low", is_open=True)
    return bench


def _gone(bench: Bench, gross: float = 1.0) -> float:
    return gross - bench.load_kg


@pytest.mark.parametrize(
    ("hz", "pull"), [(hz, pull) for hz in (0.45, 0.5, 2.0) for pull in (-0.03, 0.03, 0.08)] + [(20.0, -0.03)]
)
def test_a_pull_that_comes_and_goes_leaves_no_trace(hz: float, pull: float, make_bench: MakeBench) -> None:
    """A pull while it lasts is held apart; afterwards the indication is believed again, to one step."""
    bench = _open(make_bench, hz=hz)
    bench.run(60.0, flow=FLOW)
    bench.extra_kg = pull
    bench.run(20.0, flow=FLOW)
    during = bench.job.picture.dispensed
    assert during.mass_kg == pytest.approx(_gone(bench), abs=max(3.0 * during.u_kg, 6e-3))
    bench.extra_kg = 0.0
    bench.run(30.0, flow=FLOW)
    after = bench.job.picture.dispensed
    assert after.mass_kg == pytest.approx(_gone(bench), abs=1.5e-3)
    assert not bench.job.course.pan.disturbed
    assert "scale-disturbed" not in bench.active


@pytest.mark.parametrize(
    ("hz", "pull", "grows_s"),
    [(10.0, 0.014, 5.7), (10.0, 0.0155, 2.1), (10.0, -0.0102, 0.4), (0.5, 0.054, 5.8), (0.5, -0.013, 0.5)],
)
def test_a_pull_that_grows_and_lets_go_leaves_no_trace(
    hz: float, pull: float, grows_s: float, make_bench: MakeBench
) -> None:
    """Growing, it looks like a flow that pauses or runs faster; letting go, like a loss or a pause."""
    bench = _open(make_bench, hz=hz)
    bench.run(60.0, flow=2.7e-3)
    bench.lean(pull, grows_s, flow=2.7e-3)
    bench.run(44.0, flow=2.7e-3)
    for tenth in range(9, -1, -1):
        bench.extra_kg = pull * tenth / 10.0
        bench.run(0.05, flow=2.7e-3)
    bench.run(30.0, flow=2.7e-3)
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(_gone(bench), abs=3e-3)


@pytest.mark.parametrize("lift", [0.015, 0.035])
def test_a_pause_excuses_no_lift_of_another_size(lift: float, make_bench: MakeBench) -> None:
    """The compressor stands still for 8 s; later something lifts the container a little, more and more."""
    bench = _open(make_bench)
    bench.run(56.0, flow=2.7e-3)
    bench.run(8.0)
    bench.run(44.0, flow=2.7e-3)
    bench.lean(-lift, 2.0, flow=2.7e-3)
    bench.run(20.0, flow=2.7e-3)
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(_gone(bench), abs=4e-3)


def test_a_pause_is_undone_once(make_bench: MakeBench) -> None:
    bench = _open(make_bench)
    bench.run(60.0, flow=2.7e-3)
    bench.lean(0.014, 5.7, flow=2.7e-3)
    bench.run(34.0, flow=2.7e-3)
    bench.extra_kg = 0.0
    bench.run(15.0, flow=2.7e-3)
    bench.extra_kg = -0.014
    bench.run(20.0, flow=2.7e-3)
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(_gone(bench), abs=3e-3)


@pytest.mark.parametrize("hz", [1.0, 5.0])
def test_a_push_under_which_the_indication_rises_is_no_pause(hz: float, make_bench: MakeBench) -> None:
    """15 g within 3 s against a flow of 2.8 g/s: it rises by 6 g, which no container does that can only lose."""
    bench = _open(make_bench, hz=hz)
    bench.run(60.0, flow=2.8e-3)
    bench.lean(0.015, 3.0, flow=2.8e-3)
    bench.run(25.0, flow=2.8e-3)
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(_gone(bench), abs=2e-3)


@pytest.mark.parametrize(("hz", "push"), [(0.5, 0.0186), (0.5, 0.03), (0.5, -0.02), (1.0, 0.0186)])
def test_what_lets_go_just_after_the_circuit_is_shut_is_no_flow(hz: float, push: float, make_bench: MakeBench) -> None:
    """The valve leaves so much in doubt of what has flowed that what let go would pass for it."""
    bench = make_bench(hz=hz, hose=Hose(1.8, 4.8e-3)).ready(gross=1.0)
    bench.valve("container", is_open=True)
    bench.run(8.0)
    bench.valve("low", is_open=True)
    bench.run(60.0, flow=5e-3)
    bench.extra_kg = push
    bench.run(30.0, flow=5e-3)
    bench.valve("low", is_open=False)
    bench.run(0.2)
    bench.extra_kg = 0.0
    bench.run(2.0)
    bench.valve("container", is_open=False)
    bench.run(15.0)
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(_gone(bench), abs=1.5e-3)


@pytest.mark.parametrize(("leans", "rush", "over_s"), [(0.006, 0.024, 1.5), (0.012, 0.030, 1.0), (0.030, 0.050, 1.5)])
def test_a_hose_that_fills_in_a_rush_frees_nothing_of_what_leans_on_the_pan(
    leans: float, rush: float, over_s: float, make_bench: MakeBench
) -> None:
    bench = _open(make_bench)
    bench.run(30.0, flow=FLOW)
    bench.valve("low", is_open=False)
    bench.run(10.0)
    bench.extra_kg = leans
    bench.run(10.0)
    bench.valve("low", is_open=True)
    bench.run(1.0)
    bench.run(over_s, flow=rush / over_s)
    bench.run(20.0, flow=FLOW)
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(_gone(bench), abs=1.5e-3)


@pytest.mark.parametrize(("push", "slower"), [(0.010, 0.85), (0.012, 0.80), (0.012, 0.75)])
def test_a_push_is_undone_though_the_flow_has_slowed_a_little_meanwhile(
    push: float, slower: float, make_bench: MakeBench
) -> None:
    bench = _open(make_bench)
    bench.run(60.0, flow=2.7e-3)
    bench.lean(push, 5.0, flow=2.7e-3)
    bench.run(25.0, flow=slower * 2.7e-3)
    bench.extra_kg = 0.0
    bench.run(15.0, flow=slower * 2.7e-3)
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(_gone(bench), abs=1.5e-3)
