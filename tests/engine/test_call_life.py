"""The life of a close call: one an approach, taken back with a reason, raised anew when the flow comes back."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fillmark.engine.events import Reading

if TYPE_CHECKING:
    from tests.engine.conftest import Bench, MakeBench

    from fillmark.engine.job import Transition

FLOW = 2e-3


def _approaching(make: MakeBench, flow: float) -> Bench:
    """A bench whose circuit has taken in 100 g less what flows in eleven seconds; the call comes ten before the aim."""
    bench: Bench = make(window=(0.08, 0.12), reaction=10.0).ready(gross=1.0)
    bench.valve("low", is_open=True)
    bench.run(0.1 / flow - 11.0, flow=flow)
    return bench


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    pauses=st.lists(st.tuples(st.floats(6.0, 25.0), st.floats(1.0, 3.0)), min_size=1, max_size=3),
    flow=st.floats(1.5e-3, 4e-3),
)
def test_one_call_an_approach_and_each_is_taken_back_with_a_reason(
    make_bench: MakeBench, pauses: list[tuple[float, float]], flow: float
) -> None:
    """However often the flow stops and comes back short of the aim: calls and withdrawals alternate, none is silent."""
    bench = _approaching(make_bench, flow)
    bench.run(3.0, flow=flow)
    for stands_s, flows_s in pauses:
        bench.run(stands_s)
        bench.run(flows_s, flow=flow)
    moves = [t for t in bench.moved if t.id == "close-valve-now"]
    assert [t.after.value == "unacknowledged active" for t in moves] == [
        number % 2 == 0 for number in range(len(moves))
    ]
    assert 1 <= len(moves[::2]) <= len(pauses) + 1
    assert all(one.text.startswith("Close the low-side valve now: ") for one in moves[::2])
    assert all(re.match(r"Withdrawn: the flow has (stopped at|fallen to) \d", one.text) for one in moves[1::2])


def test_a_call_that_was_acknowledged_comes_anew_when_the_flow_does(make_bench: MakeBench) -> None:
    bench = _approaching(make_bench, FLOW)
    bench.run(3.0, flow=FLOW)
    bench.treat("acknowledge", "close-valve-now")
    bench.run(15.0)
    assert "close-valve-now" not in bench.active
    bench.run(10.0, flow=FLOW)
    assert len(bench.raised("close-valve-now")) == 2


@pytest.mark.parametrize("clock", [-2.0, 5.0])
def test_clocks_that_are_apart_bring_the_call_early_and_not_late(clock: float, make_bench: MakeBench) -> None:
    """Devices ahead are corrected; that devices are behind nobody can see, so they may call early, by as much."""
    bench = make_bench(window=(0.08, 0.12)).open_job()
    bench.begin()
    bench.mount(gross=1.0)
    while not bench.raised("close-valve-now"):
        bench.wait_until(bench.now + 0.2)
        if bench.now > 4.0:
            bench.load_kg -= FLOW * 0.2
        bench.feed(Reading(bench.clock + clock, "scale/mass", bench.shown()))
        if bench.now == pytest.approx(4.0):
            bench.valve("low", is_open=True)
    out_kg, due_kg, steps_kg = 1.0 - bench.load_kg, 0.1 - FLOW * 1.5, 2e-3
    assert due_kg - FLOW * max(-clock, 0.0) - steps_kg <= out_kg <= due_kg + steps_kg


def _called(make: MakeBench) -> Bench:
    """A bench that has just been told to close the valve."""
    bench = _approaching(make, FLOW)
    while not bench.raised("close-valve-now"):
        bench.run(0.2, flow=FLOW)
    return bench


def _withdrawals(bench: Bench) -> list[Transition]:
    return [t for t in bench.moved if t.id == "close-valve-now" and t.before.value.endswith(" active")]


def test_a_moment_of_slower_flow_does_not_take_the_call_back(make_bench: MakeBench) -> None:
    """A display would show the call, hide it and show it again under the finger of who answers it."""
    bench = _called(make_bench)
    slow_s = 0.0
    while slow_s < 1.0:  # until nothing but the delay keeps the call
        bench.run(0.2)
        land = bench.job.picture.landing
        assert land is not None
        slow_s = slow_s + 0.2 if land.if_called_kg < 0.097 else 0.0
    bench.run(2.0, flow=2.0 * FLOW)
    assert (len(bench.raised("close-valve-now")), _withdrawals(bench)) == (1, [])


def test_a_call_is_taken_back_two_seconds_after_the_flow_has_stopped_to_the_moment(make_bench: MakeBench) -> None:
    """A tick says so, not the scale's next word."""
    bench = _called(make_bench)
    while (over_s := bench.job.points["close-valve-now", ""].over_s) is None:
        bench.run(0.2)
    gone_s = bench.clock
    bench.run(1.9)
    assert _withdrawals(bench) == []
    bench.run(0.2)
    assert [one.at_s for one in _withdrawals(bench)] == [over_s]
    assert over_s == pytest.approx(gone_s + 2.0)


def test_a_call_ends_at_once_when_the_valve_is_shut(make_bench: MakeBench) -> None:
    bench = _called(make_bench)
    bench.valve("low", is_open=False)
    assert [(one.at_s, one.text[:18]) for one in _withdrawals(bench)] == [(bench.clock, "The valve is shut;")]


def test_no_call_outlives_its_job(make_bench: MakeBench) -> None:
    bench = _called(make_bench)
    bench.run(0.2)
    bench.close_job()
    assert "close-valve-now" not in bench.active


def test_who_acknowledges_a_call_that_is_ending_does_not_make_it_last(make_bench: MakeBench) -> None:
    bench = _called(make_bench)
    while (over_s := bench.job.points["close-valve-now", ""].over_s) is None:
        bench.run(0.2)
    bench.run(1.0)
    bench.treat("acknowledge", "close-valve-now")
    bench.run(1.2)
    assert [one.at_s for one in _withdrawals(bench)][-1] == over_s


def test_nothing_outlives_a_job_whose_steps_nobody_recorded(make_bench: MakeBench) -> None:
    bench = make_bench(window=(0.08, 0.12), reaction=10.0).open_job()
    bench.mount(gross=1.0)
    bench.run(4.0)
    bench.valve("low", is_open=True)
    bench.run(39.0, flow=FLOW)
    bench.run(2.0)
    bench.valve("low", is_open=False)
    bench.close_job()
    assert "close-valve-now" not in bench.active
