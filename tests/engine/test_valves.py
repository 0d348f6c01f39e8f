"""What valves do to the pan, by hand: a scale of 1 g read once a second, 1 kg that gives 3 g/s from 10 s on."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest

from fillmark.engine.weighing.pan import Pan
from fillmark.engine.weighing.path import Path
from fillmark.engine.weighing.valves import enter, loosened, throttled

if TYPE_CHECKING:
    from tests.engine.conftest import Bench, MakeBench

FLOW = 3e-3
BEGINS_S, SHUT_S = 10.0, 50.0
AT_SHUT_KG = 1.0 - FLOW * (SHUT_S - BEGINS_S)


def _flowing() -> Pan:
    pan = Pan(1e-3, 0.0)
    for second in range(10):
        pan = pan.take(float(second), 1.0)
    pan = enter(pan, Path.OPEN, BEGINS_S)
    for second in range(10, 51):
        pan = pan.take(float(second), round(1.0 - FLOW * (second - BEGINS_S), 3))
    return pan


def test_a_flow_may_end_when_the_circuit_is_shut() -> None:
    shut = throttled(_flowing(), SHUT_S, ends=True)
    assert shut.throttled_kg_s == pytest.approx(FLOW, rel=0.1)
    for second in range(51, 60):
        shut = shut.take(float(second), AT_SHUT_KG)
        assert not shut.disturbed
    assert shut.mass_kg == pytest.approx(AT_SHUT_KG, abs=1e-3)
    assert shut.flow_kg_s == pytest.approx(0.0, abs=0.2e-3)


@pytest.mark.parametrize("jump_kg", [0.03, -0.03])
def test_no_more_than_what_flowed_comes_to_an_end(jump_kg: float) -> None:
    """3 g/s for the second since the last reading and one that the tap may be late, and three steps: 9 g."""
    shut = throttled(_flowing(), SHUT_S, ends=True)
    for second in range(51, 53):
        shut = shut.take(float(second), AT_SHUT_KG + jump_kg)
    assert shut.disturbed
    assert shut.mass_kg == pytest.approx(AT_SHUT_KG - 2.0 * FLOW, abs=2.0 * FLOW)


def test_while_another_valve_is_open_the_flow_may_do_anything() -> None:
    assert throttled(_flowing(), SHUT_S, ends=False).throttled_kg_s == math.inf


def test_a_valve_that_is_opened_again_and_a_container_that_is_shut_lift_the_limit() -> None:
    shut = throttled(_flowing(), SHUT_S, ends=True)
    assert loosened(shut, 52.0).throttled_kg_s == math.inf
    assert enter(shut, Path.SHUT, 52.0).throttled_kg_s == math.inf


def test_a_pan_that_nothing_flows_from_is_not_throttled() -> None:
    still = Pan(1e-3, 0.0).take(0.0, 1.0)
    assert throttled(still, 1.0, ends=True) is still


def _both_open(make: MakeBench) -> Bench:
    bench = make(hz=5.0).ready(gross=1.0, draw="liquid")
    bench.probes = {"ambient/temperature": 20.0}
    bench.valve("container", is_open=True)
    bench.run(6.0)
    bench.valve("high", is_open=True)
    bench.valve("low", is_open=True)
    bench.run(20.0, flow=8e-3)
    return bench


def test_to_shut_one_of_two_valves_or_one_twice_ends_no_flow(make_bench: MakeBench) -> None:
    bench = _both_open(make_bench)
    bench.valve("low", is_open=False)
    bench.valve("low", is_open=False)
    assert bench.job.course.pan.throttled_kg_s == math.inf
    assert bench.job.course.pan.flow_kg_s == pytest.approx(8e-3, rel=0.1)
    bench.valve("high", is_open=False)
    limit = bench.job.course.pan.throttled_kg_s
    bench.valve("high", is_open=False)
    assert bench.job.course.pan.throttled_kg_s == limit == pytest.approx(8e-3, rel=0.1)
