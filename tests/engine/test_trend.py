"""Pulls that grow over seconds, and true changes of flow that look like them.

Tolerance: while something pulls, what flowed meanwhile is known by the trend to a tenth; afterwards the indication is
believed again, to one step.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from fillmark.engine.weighing.estimate import Estimate
from fillmark.engine.weighing.trend import GROWS_S, NO_TREND, Trend, Turn

if TYPE_CHECKING:
    from tests.engine.conftest import Bench, MakeBench

FLOW = 2e-3


def _flowing(make: MakeBench, *, hz: float) -> Bench:
    bench = make(hz=hz, hose=None).ready(gross=1.0)
    bench.valve("low", is_open=True)
    bench.run(40.0, flow=FLOW)
    return bench


def _gone(bench: Bench) -> float:
    return 1.0 - bench.load_kg


@pytest.mark.parametrize("hz", [0.5, 1.0, 5.0])
@pytest.mark.parametrize(("pull_kg", "over_s"), [(-0.05, 5.0), (-0.02, 5.0), (0.05, 5.0), (-0.03, 2.0), (0.03, 2.0)])
def test_a_pull_that_grows_is_no_flow(hz: float, pull_kg: float, over_s: float, make_bench: MakeBench) -> None:
    bench = _flowing(make_bench, hz=hz)
    bench.lean(pull_kg, over_s, flow=FLOW)
    bench.run(20.0, flow=FLOW)
    during = bench.job.picture.dispensed
    assert during.mass_kg == pytest.approx(_gone(bench), abs=max(2.0 * during.u_kg, 5e-3))
    bench.extra_kg = 0.0
    bench.run(20.0, flow=FLOW)
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(_gone(bench), abs=1.5e-3)
    assert "scale-disturbed" not in bench.active


@pytest.mark.parametrize("hz", [1.0, 5.0])
def test_a_flow_that_truly_grows_is_believed_after_a_while(hz: float, make_bench: MakeBench) -> None:
    bench = _flowing(make_bench, hz=hz)
    bench.run(GROWS_S + 6.0, flow=3.0 * FLOW)
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(_gone(bench), abs=2e-3)
    assert bench.job.picture.flow_kg_s == pytest.approx(3.0 * FLOW, rel=0.15)


@pytest.mark.parametrize("hz", [1.0, 5.0])
def test_a_flow_that_grows_to_just_below_what_cannot_be_is_no_pull(hz: float, make_bench: MakeBench) -> None:
    """It rises past 2.25 g/s, which no flow may that was never above the usual 1.5, and settles a little below."""
    bench = make_bench(hz=hz, hose=None).ready(gross=1.0)
    bench.valve("low", is_open=True)
    bench.run(20.0, flow=1.0e-3)
    bench.run(4.0, flow=2.6e-3)
    bench.run(20.0, flow=2.1e-3)
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(_gone(bench), abs=2e-3)
    assert "scale-disturbed" not in bench.active


@pytest.mark.parametrize(("pull_kg", "faster"), [(-0.02, 1.25), (-0.03, 1.25), (-0.02, 1.3)])
def test_a_pull_beside_a_flow_that_grows_a_little_is_no_flow(
    pull_kg: float, faster: float, make_bench: MakeBench
) -> None:
    """Nobody knows when the flow grew: what is shown may be off by that, but the doubt says so."""
    bench = _flowing(make_bench, hz=5.0)
    bench.lean(pull_kg, 3.0, flow=faster * FLOW)
    bench.run(25.0, flow=faster * FLOW)
    shown = bench.job.picture.dispensed
    assert shown.mass_kg == pytest.approx(_gone(bench), abs=min(2.0 * shown.u_kg, -pull_kg / 2.0))


def test_a_flow_that_pauses_and_comes_back_is_never_held_back(make_bench: MakeBench) -> None:
    bench = _flowing(make_bench, hz=5.0)
    for _ in range(4):
        bench.run(4.0)
        bench.run(8.0, flow=FLOW)
        assert bench.job.picture.dispensed.mass_kg == pytest.approx(_gone(bench), abs=2e-3)
    assert "scale-disturbed" not in {moved.id for moved in bench.moved}


def test_what_lets_go_after_the_valve_was_shut_is_taken_back_from_that_fill(make_bench: MakeBench) -> None:
    bench = _flowing(make_bench, hz=5.0)
    bench.lean(-0.03, 3.0, flow=FLOW)
    bench.valve("low", is_open=False)
    bench.run(15.0)
    bench.extra_kg = 0.0
    bench.run(15.0)
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(_gone(bench), abs=1.5e-3)
    assert bench.charged_kg == pytest.approx(_gone(bench), abs=1.5e-3)


def _fed(make: MakeBench, *, hz: float) -> Bench:
    """As _flowing, with the container's valve recorded: it goes on to feed the hose when the circuit is shut."""
    bench = make(hz=hz, hose=None).ready(gross=1.0)
    bench.valve("container", is_open=True)
    bench.run(6.0)
    bench.valve("low", is_open=True)
    bench.run(40.0, flow=FLOW)
    return bench


@pytest.mark.parametrize("hz", [1.0, 10.0])
@pytest.mark.parametrize("pull_kg", [0.02, -0.02, 0.035, -0.035])
def test_what_lets_go_in_the_second_in_which_the_valve_is_shut_is_no_flow(
    hz: float, pull_kg: float, make_bench: MakeBench
) -> None:
    bench = _fed(make_bench, hz=hz)
    bench.extra_kg = pull_kg
    bench.run(15.0, flow=FLOW)
    bench.valve("low", is_open=False)
    bench.run(1.2)
    bench.extra_kg = 0.0
    bench.run(20.0)
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(_gone(bench), abs=2.5e-3)


@pytest.mark.parametrize(
    ("hz", "pull_kg", "over_s"), [(2.0, -0.01, 1.0), (10.0, -0.01, 1.0), (1.0, 0.02, 3.0), (10.0, 0.02, 3.0)]
)
def test_what_begins_to_pull_or_press_as_the_valve_is_shut_is_no_flow(
    hz: float, pull_kg: float, over_s: float, make_bench: MakeBench
) -> None:
    bench = _fed(make_bench, hz=hz)
    bench.lean(pull_kg, over_s, flow=FLOW)
    bench.run(0.5, flow=FLOW)
    bench.valve("low", is_open=False)
    bench.run(20.0)
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(_gone(bench), abs=2.5e-3)


def test_what_lets_go_slowly_once_the_valve_is_shut_is_no_flow_either(make_bench: MakeBench) -> None:
    bench = _fed(make_bench, hz=2.0)
    bench.extra_kg = 0.05
    bench.run(30.0, flow=FLOW)
    bench.valve("low", is_open=False)
    for part in range(1, 5):
        bench.extra_kg = 0.05 * (1.0 - part / 4.0)
        bench.run(0.5)
    bench.valve("container", is_open=False)
    bench.run(15.0)
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(_gone(bench), abs=3e-3)


def test_what_is_still_letting_go_when_the_container_is_shut_is_not_cut_short(make_bench: MakeBench) -> None:
    bench = _fed(make_bench, hz=1.0)
    bench.extra_kg = -0.022
    bench.run(20.0, flow=FLOW)
    bench.valve("low", is_open=False)
    bench.run(1.0)
    for part in range(1, 11):
        if part == 8:
            bench.valve("container", is_open=False)
        bench.extra_kg = -0.022 * (1.0 - part / 10.0)
        bench.run(0.4)
    bench.run(15.0)
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(_gone(bench), abs=2.5e-3)


def _kept(*flows: float) -> Trend:
    trend, mass = NO_TREND, 1.0
    for second, flow in enumerate(flows):
        mass -= flow
        trend, _ = trend.followed(Estimate(float(second), mass, flow, 1e-7, 0.0, 1e-8), 1e-3)
    return trend


def test_the_table_of_turns() -> None:
    trend = _kept(*[FLOW] * 8)
    fast = Estimate(9.5, trend.kept[-1].mass_kg - 0.02, 4.0 * FLOW, 1e-7, 0.0, 1e-8)
    watched, turn = trend.followed(fast, 1e-3)
    assert watched.anchor == trend.kept[0]
    assert turn is Turn.NONE
    gone = Estimate(11.0, watched.anchor.mass_kg - FLOW * (11.0 - watched.anchor.time_s), FLOW, 1e-7, 0.0, 1e-8)
    assert watched.followed(gone, 1e-3)[0].anchor is None
    slow = Estimate(11.0, fast.mass_kg - 1.5 * FLOW, FLOW, 1e-7, 0.0, 1e-8)
    again, _ = watched.followed(slow, 1e-3)
    assert again.followed(Estimate(13.0, slow.mass_kg - 2 * FLOW, FLOW, 1e-7), 1e-3)[1] is Turn.PULLED
    on = Estimate(9.5 + GROWS_S + 0.1, fast.mass_kg - 4.0 * FLOW * GROWS_S, 4.0 * FLOW, 1e-7)
    believed, turn = watched.followed(on, 1e-3)
    assert (believed.anchor, turn) == (None, Turn.NONE)


def test_an_ordinary_flow_is_never_watched() -> None:
    trend = _kept(*[FLOW, 0.0, 0.0, FLOW, 1.2 * FLOW] * 6)
    assert trend.anchor is None
    assert not trend.impossible(1.2 * FLOW)
    assert trend.impossible(4.0 * FLOW)
    assert trend.impossible(-FLOW)
