"""A hand that holds the container sways: none of it is refrigerant, and all of it goes with the hand."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.engine.conftest import Bench, MakeBench

SWAYS_HZ = ((0.11, 0.3), (0.9, 0.1))
"""Share of the mean by which the pressure of a hand wavers: a slow sway and a tremor. Judged."""


def _held(bench: Bench, mean_kg: float, seconds: float, flow: float) -> None:
    begun = bench.now
    while bench.now < begun + seconds:
        since = bench.now - begun
        sway = sum(share * math.sin(2.0 * math.pi * hz * since) for hz, share in SWAYS_HZ)
        bench.extra_kg = mean_kg * (1.0 + sway)
        bench.run(1.0 / bench.hz, flow=flow)


@pytest.mark.parametrize(
    ("mean_kg", "seconds", "hz", "flow"),
    [
        (0.05, 20.0, 2.0, 2.5e-3),
        (0.05, 40.0, 5.0, 4.0e-3),
        (0.05, 70.0, 10.0, 2.5e-3),
        (0.08, 40.0, 2.0, 4.0e-3),
        (0.08, 70.0, 2.0, 2.5e-3),
    ],
)
def test_a_hand_that_sways_is_no_refrigerant(
    mean_kg: float, seconds: float, hz: float, flow: float, make_bench: MakeBench
) -> None:
    """A light hand that stays for long sways like a flow that changes, and is left out."""
    bench = make_bench(hz=hz, delay=0.3, window=(0.9, 1.0)).ready(gross=2.0)
    bench.valve("low", is_open=True)
    bench.run(40.0, flow=flow)
    _held(bench, mean_kg, seconds, flow)
    assert {"unexplained-mass-step", "scale-disturbed"} & {one.id for one in bench.moved}
    bench.extra_kg = 0.0
    bench.run(15.0, flow=flow)
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(2.0 - bench.load_kg, abs=2e-3)
    assert not {"unexplained-mass-step", "scale-disturbed"} & bench.active


@pytest.mark.parametrize("hz", [5.0, 1.0 / 1.1, 1.0 / 1.5, 1.0 / 1.7, 0.5])
@pytest.mark.parametrize("left_kg", [0.008, -0.008, 0.03])
def test_a_flow_that_grows_beside_an_unexplained_step_is_flow(left_kg: float, hz: float, make_bench: MakeBench) -> None:
    """The valve is opened wider within three seconds, and stays so; no hand leans more and more for so long."""
    bench = make_bench(hz=hz).ready(gross=1.5)
    bench.valve("low", is_open=True)
    bench.run(42.0, flow=1e-3)
    bench.extra_kg = left_kg
    bench.run(15.0, flow=1e-3)
    if hz > 1.0:
        for step in range(30):
            bench.run(0.1, flow=1e-3 * (1.0 + step / 10.0))
    bench.run(60.0, flow=4e-3)
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(1.5 - bench.load_kg, abs=2e-3)
    assert bench.job.picture.flow_kg_s == pytest.approx(4e-3, rel=0.1)


def test_a_step_as_small_as_a_slow_push_leaves_is_doubted(make_bench: MakeBench) -> None:
    """A push that grew at the flow's pace and lets go looks like a pull; of a hundred grams that cannot be."""
    doubts = []
    for left_kg in (-0.015, -0.1):
        bench = make_bench(hz=5.0).ready(gross=1.5)
        bench.valve("low", is_open=True)
        bench.run(40.0, flow=1e-3)
        bench.extra_kg = left_kg
        bench.run(15.0, flow=1e-3)
        pan = bench.job.course.pan
        assert pan.pending_offset_kg == pytest.approx(left_kg, abs=2e-3)
        doubts.append(pan.offset_doubt_kg - pan.offset_u_kg)
    assert doubts[0] > 2e-3
    assert doubts[1] == 0.0
