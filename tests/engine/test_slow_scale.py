"""A scale that speaks every two seconds: what flows between its readings is not lost when the valves are shut.

The truth is the bench's own: what it let flow. Limits are those of the scale's step and of common sense, no source.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.engine.conftest import Bench, MakeBench

FLOW_KG_S = 8e-3
FILLS_S = 40.0


def charge(make_bench: MakeBench, unread_s: float) -> tuple[Bench, float]:
    """A draw that ends `unread_s` after a reading. Returns the bench at rest and what went in."""
    bench = make_bench(hz=0.5).ready(gross=1.0)
    bench.run(4.0)
    bench.valve("container", is_open=True)
    bench.run(8.0)
    bench.valve("low", is_open=True)
    bench.run(FILLS_S, flow=FLOW_KG_S)
    bench.load_kg -= FLOW_KG_S * unread_s
    bench.wait_until(bench.now + unread_s)
    bench.valve("low", is_open=False)
    return bench, FLOW_KG_S * (FILLS_S + unread_s)


@pytest.mark.parametrize("unread_s", [0.0, 0.7, 1.9])
def test_what_flowed_since_the_last_reading_is_charged(make_bench: MakeBench, unread_s: float) -> None:
    bench, true_kg = charge(make_bench, unread_s)
    bench.run(20.0)
    assert bench.charged_kg == pytest.approx(true_kg, abs=0.003)


@pytest.mark.parametrize("unread_s", [0.0, 1.9])
def test_a_flow_that_ends_between_two_readings_disturbs_nothing(make_bench: MakeBench, unread_s: float) -> None:
    bench, true_kg = charge(make_bench, unread_s)
    bench.wait_until(bench.now + 2.0)
    bench.valve("container", is_open=False)
    bench.run(20.0)
    assert bench.raised("scale-disturbed") == []
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(true_kg, abs=0.0015)


def test_a_flow_that_had_ended_before_the_container_was_shut_leaves_the_lag_nothing_to_show(
    make_bench: MakeBench,
) -> None:
    """Read every two seconds: the circuit is shut, then the container, and a single reading says where it stands."""
    bench = make_bench(hz=0.5, delay=0.5, window=(0.9, 1.0)).ready(gross=2.0)
    bench.run(6.0)
    bench.valve("container", is_open=True)
    bench.valve("low", is_open=True)
    bench.run(40.0, flow=10e-3)
    bench.valve("low", is_open=False)
    bench.wait_until(bench.now + 1.9)
    bench.valve("container", is_open=False)
    bench.run(0.1)
    bench.wait_until(bench.now + 1.5)
    bench.unmount()
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(0.400, abs=1.5e-3)
