"""The close call against hand computation: aim less flow times (reaction + age)."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.engine.close_call import LEAST_FLOW_KG_S, landing

if TYPE_CHECKING:
    from tests.engine.conftest import Bench, MakeBench

FLOW = 2e-3


def test_landing_by_hand() -> None:
    land = landing(shown_kg=0.400, flow_kg_s=2e-3, age_s=1.5, reaction_s=1.5, after_run_kg=4e-3, aim_kg=0.5)
    assert land.if_shut_kg == pytest.approx(0.400 + 2e-3 * 1.5 + 4e-3)
    assert land.if_called_kg == pytest.approx(0.400 + 2e-3 * 3.0 + 4e-3)
    assert land.call_in_s == pytest.approx((0.5 - 0.410) / 2e-3)
    assert land.aim_in_s == pytest.approx((0.5 - 0.403) / 2e-3)


def test_without_flow_there_is_no_time_to_anything() -> None:
    land = landing(
        shown_kg=0.4,
        flow_kg_s=LEAST_FLOW_KG_S / 2,
        age_s=0.0,
        reaction_s=1.0,
        after_run_kg=0.0,
        aim_kg=0.5,
    )
    assert land.call_in_s is None
    assert land.aim_in_s is None


@given(
    shown=st.floats(0.0, 1.0),
    flow=st.floats(2e-4, 0.04),
    age=st.floats(0.0, 5.0),
    reaction=st.floats(0.0, 5.0),
)
def test_calling_when_due_lands_on_the_aim(shown: float, flow: float, age: float, reaction: float) -> None:
    def land(more_s: float) -> float | None:
        made = landing(
            shown_kg=shown, flow_kg_s=flow, age_s=age + more_s, reaction_s=reaction,
            after_run_kg=0.0, aim_kg=0.5,
        )  # fmt: skip
        return made.call_in_s if more_s == 0.0 else made.if_called_kg

    due = land(0.0)
    assert due is not None
    if due > 0.0:
        assert land(due) == pytest.approx(0.5, abs=1e-9)


def _filling(make: MakeBench, *, hz: float, reaction: float = 1.5, delay: float = 0.0) -> tuple[Bench, float]:
    """A bench with steady flow into a circuit, no hose in the way, and the moment at which flow began."""
    bench = make(hz=hz, reaction=reaction, delay=delay).ready(gross=1.0)
    bench.valve("low", is_open=True)
    began = bench.now
    return bench, began


@pytest.mark.parametrize(("hz", "reaction"), [(1.0, 0.0), (1.0, 1.5), (1.0, 4.0), (5.0, 1.5), (10.0, 1.5)])
def test_with_constant_flow_the_call_comes_within_one_reading_of_the_hand_computation(
    hz: float, reaction: float, make_bench: MakeBench
) -> None:
    """The toy hose holds 0.8 g of vapour; the engine takes it off, so the hand does as well."""
    bench, began = _filling(make_bench, hz=hz, reaction=reaction)
    bench.run(255.0, flow=FLOW)
    hose = bench.job.picture.hose
    start = bench.job.course.account.fill
    assert hose is not None
    assert start is not None
    grown = hose.mass_kg - start.hose_start_kg
    by_hand = began + (0.5 + grown - FLOW * reaction) / FLOW
    calls = bench.raised("close-valve-now")
    assert len(calls) == 1
    # One reading, and half a step of the scale at this flow (0.25 s) that no filter can see below.
    assert calls[0].at_s - 1_800_000_000.0 == pytest.approx(by_hand, abs=1.0 / hz + 0.25)


def test_the_call_comes_between_two_readings_by_a_tick_and_not_late(make_bench: MakeBench) -> None:
    """Twenty phases of a 0.5 Hz scale: the call is never later than its own moment by more than rounding."""
    for phase in range(20):
        bench, _ = _filling(make_bench, hz=0.5, reaction=1.5)
        bench.run(230.0, flow=FLOW)
        bench.run(0.1 * phase + 0.05, flow=FLOW)
        while not bench.raised("close-valve-now"):
            land, due = bench.job.picture.landing, bench.job.wake_at_s
            assert land is not None
            assert land.call_in_s is not None
            at = bench.job.now_s + land.call_in_s
            before = bench.now
            if due is not None and at < bench.clock + 2.0:
                bench.wait_until(before + 1.999)
                assert [t.at_s for t in bench.raised("close-valve-now")] == [pytest.approx(at, abs=1e-5)]
                break
            bench.run(2.0, flow=FLOW)
        assert len(bench.raised("close-valve-now")) == 1


def test_a_scale_that_falls_silent_does_not_silence_the_call(make_bench: MakeBench) -> None:
    bench, began = _filling(make_bench, hz=5.0)
    bench.run(247.0, flow=FLOW)
    bench.wait_until(bench.now + 10.0)
    assert bench.raised("close-valve-now")[0].at_s == pytest.approx(1_800_000_000.0 + began + 248.5, abs=0.5)


def test_shut_in_time_means_no_call(make_bench: MakeBench) -> None:
    bench, _ = _filling(make_bench, hz=5.0)
    bench.run(200.0, flow=FLOW)
    bench.valve("low", is_open=False)
    bench.run(60.0)
    assert not bench.raised("close-valve-now")


def test_the_end_of_the_call_says_why(make_bench: MakeBench) -> None:
    bench, _ = _filling(make_bench, hz=5.0)
    bench.run(249.5, flow=FLOW)
    assert "close-valve-now" in bench.active
    bench.valve("low", is_open=False)
    last = [t for t in bench.moved if t.id == "close-valve-now"][-1]
    assert last.text.startswith("The valve is shut; 49")


def test_it_is_withdrawn_when_the_flow_stops_short_of_the_aim(make_bench: MakeBench) -> None:
    bench, _ = _filling(make_bench, hz=5.0, reaction=10.0)
    bench.run(241.0, flow=FLOW)
    assert "close-valve-now" in bench.active
    bench.run(15.0)
    assert "close-valve-now" not in bench.active
    last = [t for t in bench.moved if t.id == "close-valve-now"][-1]
    assert last.text.startswith("Withdrawn: the flow has ")
    assert "aim-reached" not in bench.active


def test_it_speaks_again_when_flow_returns(make_bench: MakeBench) -> None:
    bench, _ = _filling(make_bench, hz=5.0, reaction=10.0)
    bench.run(241.0, flow=FLOW)
    bench.run(15.0)
    bench.run(10.0, flow=FLOW)
    assert len(bench.raised("close-valve-now")) == 2


def test_with_only_the_containers_valve_the_hose_runs_on(make_bench: MakeBench) -> None:
    """Nobody records valves and a running compressor pulls: what the hose holds still goes in.

    No pressure is read, so the hose is taken for half of the 0.8 g of saturated toy vapour that it holds at most.
    """
    bench = make_bench(hz=5.0).open_job()
    bench.begin()
    bench.engine(running=True)
    bench.mount(gross=1.0)
    bench.run(4.0)
    bench.run(100.0, flow=FLOW)
    land, hose = bench.job.picture.landing, bench.job.picture.hose
    assert land is not None
    assert hose is not None
    age = bench.clock - (bench.job.course.pan.time_s or 0.0)
    flow = bench.job.picture.flow_kg_s or 0.0
    assert hose.mass_kg == pytest.approx(1.8 * 0.0048**2 * 0.785398163 * 25.0 / 2.0, rel=1e-6)
    assert land.if_shut_kg - bench.charged_kg == pytest.approx(hose.mass_kg + flow * age, abs=1e-6)
