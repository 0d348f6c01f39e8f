"""The mass on the pan under what a workshop does to a scale.

Tolerances: a scale of step r repeats the same rounding at rest, so r/2 is the most that any estimate can be off by for
a steady load; a disturbance during flow costs what flowed while nobody could see it, at the flow's own uncertainty.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillmark.engine.events import ExplainStep
from fillmark.engine.setup import Hose
from fillmark.engine.weighing.hands import remounted
from fillmark.engine.weighing.pan import Pan
from fillmark.engine.weighing.path import Path
from fillmark.engine.weighing.valves import enter, let_stand

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
    ("hz", "resolution"),
    [(hz, step) for hz in (0.45, 0.5, 1.0, 5.0) for step in (0.5e-3, 1e-3, 2e-3, 5e-3)] + [(10.0, 2e-3), (20.0, 1e-3)],
)
def test_a_quantised_ramp_is_followed_within_half_a_step(hz: float, resolution: float, make_bench: MakeBench) -> None:
    bench = _open(make_bench, hz=hz, resolution=resolution)
    bench.run(120.0, flow=FLOW)
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(_gone(bench), abs=0.6 * resolution + 0.3e-3)
    assert bench.job.picture.flow_kg_s == pytest.approx(FLOW, rel=0.15)
    assert not {"scale-disturbed", "unexplained-mass-step"} & {t.id for t in bench.moved}


@pytest.mark.parametrize("flow", [0.2e-3, 1e-3, 5e-3, 15e-3, 35e-3])
def test_any_flow_that_a_hose_lets_through_is_flow(flow: float, make_bench: MakeBench) -> None:
    bench = _open(make_bench, gross=3.0)
    bench.run(40.0, flow=flow)
    bench.run(5.0)
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(_gone(bench, 3.0), abs=1.5e-3)
    assert "unexplained-mass-step" not in {t.id for t in bench.moved}


def test_flow_that_starts_and_stops_by_itself(make_bench: MakeBench) -> None:
    """A compressor that cycles: the valve stays open, nobody says a word."""
    bench = _open(make_bench)
    for _ in range(6):
        bench.run(15.0, flow=3e-3)
        bench.run(10.0)
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(_gone(bench), abs=1e-3)
    assert "unexplained-mass-step" not in {t.id for t in bench.moved}


@pytest.mark.parametrize(
    ("hz", "rest_s", "flow"),
    [(1.0, 4.0, 2e-3), (1.0, 60.0, 0.5e-3), (5.0, 30.0, 0.5e-3), (5.0, 30.0, 2e-3), (10.0, 10.0, 5e-3)],
)
def test_a_container_drained_with_no_valve_recorded_at_all(
    hz: float, rest_s: float, flow: float, make_bench: MakeBench
) -> None:
    """Noticed from the scale alone, and counted from its beginning: one step, for the edge that the gate hides."""
    bench = make_bench(hz=hz, hose=None).ready(gross=1.0)
    bench.run(rest_s)
    bench.run(0.1 / flow, flow=flow)
    bench.run(10.0)
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(0.1, abs=1e-3)
    assert bench.charged_kg == pytest.approx(0.1, abs=1e-3)
    assert "unexplained-mass-step" not in {t.id for t in bench.moved}


def test_hands_that_lift_and_change_a_container_before_any_valve_are_no_flow(make_bench: MakeBench) -> None:
    bench = make_bench(hose=None).ready(gross=1.0)
    for load in (0.985, 0.97, 0.99, 0.5, 0.45):
        bench.load_kg = load
        bench.run(6.0)
    assert bench.charged_kg == 0.0
    bench.valve("low", is_open=True)
    bench.run(50.0, flow=FLOW)
    assert bench.charged_kg == pytest.approx(0.1, abs=1.5e-3)


def test_a_scale_that_drifts_for_hours_is_no_flow_from_a_container_never_opened(make_bench: MakeBench) -> None:
    """4 g/h over three hours, more than what is taken for a bench scale."""
    bench = make_bench(hz=0.1, hose=None).ready(gross=1.0)
    for minute in range(180):
        bench.extra_kg = -4e-3 * minute / 60.0
        bench.run(60.0)
    assert bench.charged_kg == 0.0


def test_a_bump_is_nothing(make_bench: MakeBench) -> None:
    bench = _open(make_bench)
    bench.run(60.0, flow=FLOW)
    for extra in (0.2, -0.1, 0.05):
        bench.extra_kg = extra
        bench.run(0.2, flow=FLOW)
    bench.extra_kg = 0.0
    bench.run(30.0, flow=FLOW)
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(_gone(bench), abs=1e-3)


@pytest.mark.parametrize("gone_s", [0.2, 0.6, 1.0, 1.4])
def test_a_tool_taken_off_as_the_valve_is_shut_is_not_counted(gone_s: float, make_bench: MakeBench) -> None:
    """The indication is on its way when the tap comes: what it shows in that moment means nothing."""
    bench = _open(make_bench, hz=2.0)
    bench.run(30.0, flow=FLOW)
    bench.extra_kg = 0.16
    bench.run(20.0, flow=FLOW)
    for second in (0.1 * tenth for tenth in range(int(10.0 * gone_s))):
        bench.extra_kg = 0.16 * math.exp(-second / 0.5)
        bench.run(0.1, flow=FLOW)
    bench.valve("low", is_open=False)
    for second in (gone_s + 0.1 * tenth for tenth in range(30)):
        bench.extra_kg = 0.16 * math.exp(-second / 0.5)
        bench.run(0.1)
    bench.run(15.0)
    assert bench.charged_kg == pytest.approx(_gone(bench), abs=2e-3)


def test_a_tool_laid_on_and_taken_off_is_never_counted(make_bench: MakeBench) -> None:
    bench = _open(make_bench)
    bench.run(30.0, flow=FLOW)
    bench.extra_kg = 0.35
    bench.run(10.0, flow=FLOW)
    assert "unexplained-mass-step" in bench.active
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(_gone(bench), abs=5e-3)
    bench.extra_kg = 0.0
    bench.run(20.0, flow=FLOW)
    assert "unexplained-mass-step" not in bench.active
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(_gone(bench), abs=1.5e-3)


def test_a_container_lifted_and_put_back(make_bench: MakeBench) -> None:
    bench = _open(make_bench)
    bench.run(30.0, flow=FLOW)
    bench.valve("low", is_open=False)
    bench.run(6.0)
    bench.extra_kg = -bench.load_kg
    bench.run(8.0)
    assert "unexplained-mass-step" in bench.active
    assert bench.charged_kg == pytest.approx(0.06, abs=2e-3)
    bench.extra_kg = 0.0
    bench.run(8.0)
    assert "unexplained-mass-step" not in bench.active
    assert bench.charged_kg == pytest.approx(0.06, abs=2e-3)


def test_a_swap_that_nobody_told_is_asked_about_and_not_counted(make_bench: MakeBench) -> None:
    bench = _open(make_bench)
    bench.run(30.0, flow=FLOW)
    bench.valve("low", is_open=False)
    bench.run(6.0)
    bench.load_kg = 0.55
    bench.run(10.0)
    assert "unexplained-mass-step" in bench.active
    assert bench.charged_kg == pytest.approx(0.06, abs=2e-3)
    bench.feed(ExplainStep(bench.clock, "handling"))
    assert "unexplained-mass-step" not in bench.active
    bench.valve("low", is_open=True)
    bench.run(50.0, flow=FLOW)
    assert bench.charged_kg == pytest.approx(0.16, abs=3e-3)


def test_a_loss_that_was_refrigerant_after_all_is_counted_when_somebody_says_so(make_bench: MakeBench) -> None:
    bench = make_bench(hose=None).ready(gross=1.0)
    bench.valve("low", is_open=True)
    bench.run(30.0, flow=FLOW)
    bench.load_kg -= 0.1
    bench.run(10.0, flow=FLOW)
    assert bench.charged_kg == pytest.approx(0.08, abs=2e-3)
    bench.feed(ExplainStep(bench.clock, "refrigerant"))
    bench.run(3.0)
    assert "unexplained-mass-step" not in bench.active
    assert bench.charged_kg == pytest.approx(0.18, abs=2e-3)


def test_a_flow_that_ends_in_a_disturbance_ended_nobody_knows_when(make_bench: MakeBench) -> None:
    bench = make_bench(hose=None).ready(gross=1.0)
    bench.valve("low", is_open=True)
    bench.run(30.0, flow=FLOW)
    bench.load_kg += 0.1
    bench.run(20.0)
    # Between none and some 10 s of the flow that was.
    assert 0.06 <= bench.charged_kg <= 0.06 + 10.0 * FLOW
    assert abs(bench.charged_kg - 0.06) <= 2.0 * bench.job.picture.charged.u_kg
    assert bench.job.picture.charged.u_kg <= 10e-3


def test_slow_drift_at_rest_is_followed_and_is_no_charge(make_bench: MakeBench) -> None:
    """2 g/h, within what is taken for a bench scale; the valve is shut, so not a gram of it goes into the circuit."""
    bench = _open(make_bench, hz=1.0)
    bench.run(30.0, flow=FLOW)
    bench.valve("low", is_open=False)
    bench.run(10.0)
    before = bench.charged_kg
    for minute in range(30):
        bench.extra_kg = -2e-3 * minute / 60.0
        bench.run(60.0)
    assert bench.charged_kg == before
    assert "unexplained-mass-step" not in {t.id for t in bench.moved}


def test_hands_at_a_container_that_was_never_opened_are_no_step(make_bench: MakeBench) -> None:
    """The pan shows nothing at mounting; the can is placed, taken up, placed again, then the hose is screwed on."""
    bench = make_bench(hose=None).open_job()
    bench.begin()
    bench.mount(gross=0.0)
    for load in (0.0, 0.5, 0.0, 0.5, 0.62):
        bench.load_kg = load
        bench.run(5.0)
    bench.valve("low", is_open=True)
    bench.run(30.0, flow=FLOW)
    assert "unexplained-mass-step" not in {t.id for t in bench.moved}
    assert bench.charged_kg == pytest.approx(0.06, abs=1.5e-3)


def test_a_valve_toggled_fast(make_bench: MakeBench) -> None:
    bench = _open(make_bench)
    for _ in range(60):
        bench.run(0.4, flow=FLOW)
        bench.valve("low", is_open=False)
        bench.run(0.4)
        bench.valve("low", is_open=True)
    bench.run(6.0)
    assert bench.charged_kg == pytest.approx(_gone(bench), abs=2.5e-3)
    assert "unexplained-mass-step" not in {t.id for t in bench.moved}


def test_fifty_kilograms(make_bench: MakeBench) -> None:
    """A hose of 12 mm, 60 g/s, a 5 g scale: five minutes of it."""
    bench = make_bench(hz=1.0, resolution=5e-3, hose=Hose(3.0, 12e-3), window=(40.0, 50.0)).ready(gross=80.0)
    bench.valve("low", is_open=True)
    bench.run(300.0, flow=60e-3)
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(18.0, abs=20e-3)
    assert "unexplained-mass-step" not in {t.id for t in bench.moved}


def test_the_first_reading_is_taken_as_it_is() -> None:
    pan = Pan(1e-3, 0.5).take(10.0, 0.5)
    assert (pan.mass_kg, pan.readings) == (0.5, 1)
    assert pan.mass_u_kg > 1e-3 / math.sqrt(12.0)


def _read(*readings: tuple[float, float]) -> Pan:
    pan = Pan(1e-3, 0.5)
    for time_s, indication in readings:
        pan = pan.take(time_s, indication)
    return pan


def test_a_slow_scale_has_said_only_once_how_hands_left_the_container() -> None:
    rested = _read((0.0, 1.0), (2.0, 1.0), (4.0, 1.006))
    assert rested.mass_kg == 1.0
    assert let_stand(rested, 5.5).mass_kg == 1.006
    assert let_stand(_read((0.0, 1.0), (2.0, 1.006), (4.0, 1.006)), 5.5).mass_kg == pytest.approx(1.006)
    assert let_stand(_read((0.0, 0.8), (2.0, 0.98), (4.0, 1.1)), 5.5).mass_kg == pytest.approx(1.1)
    assert let_stand(_read((0.0, 1.02), (2.0, 1.0)), 5.5).mass_kg == 1.0


@pytest.mark.parametrize(
    "readings",
    [
        ((0.0, 1.0), (2.0, 1.0), (4.0, 1.001)),  # within the gate: nobody has moved it
        ((0.0, 1.0), (2.0, 0.994), (4.0, 0.988)),  # it falls: that is flow
        ((0.0, 1.0), (1.0, 0.996), (2.0, 0.9955), (3.0, 0.995), (4.0, 0.9943)),  # slowly, too
        ((0.0, 1.0), (2.0, 1.0), (5.0, 0.994)),  # within a second of the tap: that may be flow
    ],
)
def test_what_may_be_flow_is_not_how_hands_left_the_container(readings: tuple[tuple[float, float], ...]) -> None:
    pan = _read(*readings)
    assert let_stand(pan, 5.5) is pan


def test_before_any_reading_carrying_on_changes_nothing() -> None:
    pan = Pan(1e-3, 0.5)
    assert pan.at(100.0) is pan
    assert enter(pan, Path.HANDLED, 5.0) is pan


def test_a_container_put_on_makes_a_new_pan() -> None:
    pan = remounted(Pan(1e-3, 0.5, 0.08).take(10.0, 0.5), 20.0)
    assert pan == Pan(1e-3, 0.5, 0.08, path_since_s=20.0)


@settings(max_examples=60, deadline=None)
@given(
    readings=st.lists(st.tuples(st.floats(0.01, 3.0), st.floats(-0.05, 3.0)), min_size=1, max_size=40),
    turns=st.lists(st.sampled_from(list(Path)), min_size=1, max_size=5),
)
def test_no_indication_makes_nonsense_of_the_estimate(readings: list[tuple[float, float]], turns: list[Path]) -> None:
    pan, time_s = Pan(1e-3, 0.5), 0.0
    for index, (gap, indication) in enumerate(readings):
        time_s += gap
        pan = pan.take(time_s, indication)
        if index % 7 == 3:
            pan = enter(pan, turns[index % len(turns)], time_s)
        assert math.isfinite(pan.mass_kg)
        assert math.isfinite(pan.flow_kg_s)
        assert pan.estimate is not None
        assert pan.estimate.var_mass >= 0.0
        assert pan.estimate.var_flow >= 0.0
        assert math.isfinite(pan.mass_u_kg)
        assert pan.estimate.cov**2 <= pan.estimate.var_mass * pan.estimate.var_flow * (1.0 + 1e-9) + 1e-30
