"""Refrigerant that flows back into a container that is colder than the circuit: when it may, and what is then counted.

The toy fluid's container stands at 6 bar whatever its temperature. A fluid flows towards the lower pressure: common
practice, no source.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from fillmark.engine.events import MountContainer

if TYPE_CHECKING:
    from tests.engine.conftest import Bench, MakeBench

FLOW = 2e-3


def _charging(make: MakeBench, low_pa: float | None, container_c: float | None = 10.0) -> Bench:
    """100 g are in; the probes that there are go on to speak."""
    bench = make(hz=2.0).ready(gross=1.0)
    bench.valve("low", is_open=True)
    bench.run(50.0, flow=FLOW)
    if low_pa is not None:
        bench.probes["low/pressure"] = low_pa
    if container_c is not None:
        bench.probes["container/temperature"] = container_c
    return bench


@pytest.mark.parametrize("back", [0.5e-3, 1.5e-3, 4e-3])
def test_what_flows_back_is_no_longer_in_the_circuit(back: float, make_bench: MakeBench) -> None:
    bench = _charging(make_bench, 7e5)
    was_kg = bench.charged_kg
    bench.run(15.0, flow=-back)
    assert bench.charged_kg - was_kg == pytest.approx(-15.0 * back, abs=2e-3)
    assert bench.raised("unexplained-mass-step") == []
    assert "flow-reversed" in bench.active
    assert bench.job.picture.flow_kg_s == pytest.approx(-back, abs=0.2e-3)


def test_what_comes_again_afterwards_is_counted(make_bench: MakeBench) -> None:
    """The container is warm of what it took back, and at first its refrigerant comes faster than ever before."""
    bench = _charging(make_bench, 7e5)
    bench.run(20.0, flow=-FLOW)
    bench.probes["low/pressure"] = 3e5
    bench.run(20.0, flow=3.0 * FLOW)
    bench.run(20.0, flow=FLOW)
    picture = bench.job.picture
    assert abs(picture.dispensed.mass_kg - (1.0 - bench.load_kg)) <= 2.0 * picture.dispensed.u_kg
    assert bench.active == set()
    assert bench.raised("flow-stalled") == []


@pytest.mark.parametrize(
    ("low_pa", "container_c"), [(5e5, 10.0), (None, 10.0), (7e5, None)], ids=["lower", "no gauge", "no clamp"]
)
def test_unless_the_pressures_say_so_a_heavier_container_is_a_disturbed_one(
    low_pa: float | None, container_c: float | None, make_bench: MakeBench
) -> None:
    bench = _charging(make_bench, low_pa, container_c)
    was_kg = bench.charged_kg
    bench.run(20.0, flow=-FLOW)
    assert bench.raised("flow-reversed") == []
    assert {"scale-disturbed", "unexplained-mass-step"} & {one.id for one in bench.moved}
    assert bench.charged_kg >= was_kg - 5e-3


def test_a_pressure_that_is_no_longer_read_lets_nothing_back(make_bench: MakeBench) -> None:
    bench = _charging(make_bench, 7e5)
    bench.run(2.0)
    del bench.probes["low/pressure"]
    bench.run(40.0)
    assert not bench.job.course.may_return
    assert bench.job.course.pan.least_kg_s == 0.0


@pytest.mark.parametrize("valve", ["low", "container"])
def test_a_shut_valve_lets_nothing_back(valve: str, make_bench: MakeBench) -> None:
    bench = _charging(make_bench, 7e5)
    bench.run(2.0)
    assert bench.job.course.pan.least_kg_s < 0.0
    bench.valve(valve, is_open=False)  # type: ignore[arg-type]  # one of two words
    assert bench.job.course.pan.least_kg_s == 0.0


@pytest.mark.parametrize(
    ("low_pa", "says"), [(3e5, "It should flow: a valve may be shut"), (5.9e5, "Warm the container")]
)
def test_a_stalled_flow_is_explained_by_the_pressures(low_pa: float, says: str, make_bench: MakeBench) -> None:
    bench = _charging(make_bench, low_pa)
    bench.run(40.0)
    (raised,) = bench.raised("flow-stalled")
    assert says in raised.text


def test_a_recovery_cylinder_that_grows_heavier_takes_in_and_nothing_flows_back(make_bench: MakeBench) -> None:
    """The circuit is at a higher pressure than the cylinder: that is how recovery goes."""
    bench = make_bench(hz=2.0).open_job()
    bench.begin("recovery")
    bench.load_kg = 1.0
    bench.feed(MountContainer(bench.clock, "RC1", tare_kg=1.0, recovers=True, water_capacity_m3=5e-3))
    bench.run(5.0)
    bench.valve("low", is_open=True)
    bench.probes = {"low/pressure": 7e5, "container/temperature": 10.0}
    bench.run(60.0, flow=-FLOW)
    assert not bench.job.course.may_return
    assert bench.raised("flow-reversed") == []
    assert bench.job.course.recovered()[0] == pytest.approx(60.0 * FLOW, abs=2e-3)


def test_where_nobody_records_valves_nothing_flows_back(make_bench: MakeBench) -> None:
    """Gauge and clamp may stand on two sides of a shut valve."""
    bench = make_bench(hz=2.0).open_job()
    bench.mount(gross=1.0)
    bench.run(10.0)
    bench.run(50.0, flow=FLOW)
    bench.probes = {"low/pressure": 7e5, "container/temperature": 10.0}
    bench.run(20.0, flow=-FLOW)
    assert not bench.job.course.may_return
    assert bench.raised("flow-reversed") == []


def test_when_both_probes_fall_silent_nothing_flows_back_any_more(make_bench: MakeBench) -> None:
    bench = _charging(make_bench, 7e5)
    bench.run(2.0)
    assert bench.job.course.pan.least_kg_s < 0.0
    bench.probes = {}
    bench.run(60.0)
    was_kg = bench.charged_kg
    bench.extra_kg = 0.06
    bench.run(20.0)
    assert bench.charged_kg == pytest.approx(was_kg, abs=5e-3)
    assert bench.raised("flow-reversed") == []


@pytest.mark.parametrize("low_pa", [6.1e5, 5.9e5], ids=["above by less than the clamp's error", "below"])
def test_a_pull_is_told_from_flow_where_the_pressures_are_nearly_equal(low_pa: float, make_bench: MakeBench) -> None:
    bench = _charging(make_bench, low_pa)
    for step in range(16):
        bench.extra_kg = -3e-3 * (step + 1)
        bench.run(0.5, flow=FLOW)
    bench.run(20.0, flow=FLOW)
    picture = bench.job.picture
    assert "unexplained-mass-step" in bench.active
    assert abs(picture.dispensed.mass_kg - (1.0 - bench.load_kg)) <= 2.0 * picture.dispensed.u_kg


def test_a_compressor_that_cycles_and_turns_the_flow_is_no_shaking_bench(make_bench: MakeBench) -> None:
    bench = _charging(make_bench, 5e5)
    for _ in range(6):
        bench.probes["low/pressure"] = 5e5
        bench.run(12.0, flow=3e-3)
        bench.probes["low/pressure"] = 6.5e5
        bench.run(12.0, flow=-1e-3)
    picture = bench.job.picture
    assert bench.raised("scale-unsteady") == []
    assert abs(picture.dispensed.mass_kg - (1.0 - bench.load_kg)) <= 2.0 * picture.dispensed.u_kg
    assert picture.dispensed.u_kg <= 1e-3
