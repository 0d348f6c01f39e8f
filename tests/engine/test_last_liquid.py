"""A container that gives its last liquid: what lies in the hose goes into the circuit, and no scale shows it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from fillmark.engine import events as ev
from fillmark.engine.containers import Container
from fillmark.engine.last_liquid import vapour_left_kg
from fillmark.engine.setup import Hose
from fillmark.refrigerants import facade

if TYPE_CHECKING:
    from tests.engine.conftest import Bench, MakeBench

    from fillmark.engine.hold_up import HoldUp

SERVICE = Hose(1.8, 4.8e-3)
HOSE_FULL_KG = 0.0326
VAPOUR_KG = 0.0113
"""340 g that fill three quarters of a can with liquid of 1000 kg/m³ leave 0.453 l for vapour of 25 kg/m³."""


def _liquid_flows(make: MakeBench, *, net: float | None = 0.340, clamp: bool = True, probes: bool = True) -> Bench:
    """The hose is filled and opened; 8 g/s flow until the can has 30 g left."""
    bench = make(hz=5.0, hose=SERVICE, window=(0.9, 1.0)).ready(gross=0.480, draw="liquid", net=net)
    bench.probes = {"ambient/temperature": 20.0}
    if probes:
        bench.probes["high/pressure"] = 4e5
    if clamp:
        bench.probes["container/temperature"] = 20.0
    bench.valve("container", is_open=True)
    bench.run(4.0, flow=HOSE_FULL_KG / 4.0)
    bench.run(4.0)
    bench.valve("high", is_open=True)
    bench.run((0.310 - HOSE_FULL_KG) / 8e-3, flow=8e-3)
    return bench


def _last_liquid_leaves(bench: Bench) -> None:
    bench.run((0.030 - VAPOUR_KG) / 8e-3, flow=8e-3)


def _container_of_liquid(
    make: MakeBench, hose: Hose, gross: float, net: float, *, container: float, high: float
) -> Bench:
    """A container of liquid on the pan, temperature °C, and a circuit at so many Pa; every valve is shut."""
    bench = make(hz=5.0, hose=hose, window=(0.9, 1.0)).ready(gross=gross, draw="liquid", net=net)
    bench.probes = {"ambient/temperature": 20.0, "container/temperature": container, "high/pressure": high}
    return bench


def _hose(bench: Bench) -> HoldUp:
    hose = bench.job.picture.hose
    assert hose is not None
    return hose


def _hose_kg(bench: Bench) -> float:
    return _hose(bench).mass_kg


def test_vapour_that_fills_an_empty_can() -> None:
    """R-134a at 20 °C: liquid 1225, vapour 27.8 kg/m³ (ASHRAE Handbook Fundamentals, from memory): 10.3 g of 340 g."""
    can = Container("C1", "liquid", net_kg=0.340)
    assert vapour_left_kg(can, facade.get("R-134a"), 293.15) == pytest.approx(0.340 / (0.75 * 1225.0) * 27.8, rel=0.01)
    known = Container("C1", "liquid", water_capacity_m3=0.5e-3)
    assert vapour_left_kg(known, facade.get("R-134a"), 293.15) == pytest.approx(13.9e-3, rel=0.01)
    assert vapour_left_kg(Container("C1", "liquid"), facade.get("R-134a"), 293.15) is None


@pytest.mark.parametrize("clamp", [True, False])
def test_what_was_in_the_hose_is_in_the_circuit_seconds_after_the_last_liquid(
    make_bench: MakeBench, *, clamp: bool
) -> None:
    bench = _liquid_flows(make_bench, clamp=clamp)
    before_kg = _hose_kg(bench)
    assert before_kg > 0.4 * HOSE_FULL_KG
    _last_liquid_leaves(bench)
    bench.run(1.0, flow=0.1e-3)
    assert "container-empty" not in bench.active
    bench.run(19.0, flow=0.1e-3)
    said = [one.text for one in bench.raised("container-empty")]
    assert [text.partition(":")[0] for text in said] == ["C1 has no more liquid, and the hose has emptied"]
    vapour_only = HOSE_FULL_KG * 25.0 / 1000.0
    assert _hose_kg(bench) == pytest.approx(vapour_only, abs=1.5e-3)
    assert bench.charged_kg == pytest.approx(0.480 - bench.load_kg - vapour_only, abs=2e-3)
    bench.valve("high", is_open=False)
    bench.run(8.0)
    bench.valve("container", is_open=False)
    bench.run(2.0)
    assert bench.charged_kg == pytest.approx(0.480 - bench.load_kg - vapour_only, abs=2e-3)


def test_the_next_can_fills_the_hose_again_and_none_of_that_is_charge(make_bench: MakeBench) -> None:
    bench = _liquid_flows(make_bench)
    _last_liquid_leaves(bench)
    bench.run(20.0, flow=0.1e-3)
    bench.valve("high", is_open=False)
    bench.run(8.0)
    bench.valve("container", is_open=False)
    bench.run(2.0)
    charged_kg = bench.charged_kg
    bench.unmount()
    bench.run(3.0)
    bench.mount("C2", gross=0.480, draw="liquid", net=0.340)
    bench.run(6.0)
    bench.valve("container", is_open=True)
    bench.run(4.0, flow=HOSE_FULL_KG / 4.0)
    bench.run(4.0)
    bench.valve("high", is_open=True)
    assert bench.charged_kg == pytest.approx(charged_kg, abs=2e-3)
    assert _hose_kg(bench) == pytest.approx(HOSE_FULL_KG, abs=2e-3)


def test_where_nobody_knows_what_was_in_the_can_a_flow_that_ends_leaves_the_hose_unknown(make_bench: MakeBench) -> None:
    bench = _liquid_flows(make_bench, net=None)
    assert _hose(bench).u_kg < 3e-3
    bench.run(10.0, flow=0.1e-3)
    hose = _hose(bench)
    assert hose.mass_kg == pytest.approx(HOSE_FULL_KG / 2.0, rel=0.1)
    assert hose.u_kg == pytest.approx(HOSE_FULL_KG / 12.0**0.5, rel=0.1)
    bench.run(10.0, flow=8e-3)  # it was only cold, and somebody has warmed it
    assert _hose(bench).u_kg < 3e-3


def test_a_throttled_flow_is_not_a_can_run_dry(make_bench: MakeBench) -> None:
    """30 g are left, and the pressures are nearly equal: what flows slowly may still be liquid."""
    bench = _liquid_flows(make_bench)
    bench.probes["high/pressure"] = 5.5e5
    bench.run(10.0, flow=0.2e-3)
    assert _hose_kg(bench) > 0.7 * HOSE_FULL_KG


def test_a_can_that_should_flow_and_does_not_may_have_run_dry(make_bench: MakeBench) -> None:
    """30 g are left by its label, at 6 bar against 4: the label may be wrong."""
    bench = _liquid_flows(make_bench)
    bench.run(10.0, flow=0.0)
    hose = _hose(bench)
    assert hose.u_kg == pytest.approx(HOSE_FULL_KG / 12.0**0.5, rel=0.1)


def test_a_hose_opened_before_it_is_full_goes_on_filling(make_bench: MakeBench) -> None:
    """A can that gives 16 g/s, and a port that takes 8: a hose of 126 g is opened with 32 g in it."""
    bench = _container_of_liquid(make_bench, Hose(2.5, 8e-3), 2.0, 1.5, container=45.0, high=4e5)
    bench.valve("container", is_open=True)
    bench.run(2.0, flow=16e-3)
    bench.valve("high", is_open=True)
    assert bench.charged_kg == pytest.approx(0.0, abs=4e-3)
    bench.run(4.0, flow=16e-3)
    assert bench.charged_kg == pytest.approx(0.032, abs=0.012)
    assert bench.job.picture.charged.u_kg > 4e-3


def test_a_can_that_holds_more_than_its_label_says_is_not_dry(make_bench: MakeBench) -> None:
    """A label of 240 g on a can of 340 g: the flow goes on, so the hose is full of liquid after all."""
    bench = _liquid_flows(make_bench, net=0.240)
    bench.run(6.0, flow=8e-3)
    assert "container-empty" not in bench.active
    assert _hose_kg(bench) > 0.4 * HOSE_FULL_KG


@pytest.mark.parametrize(("flow", "dry"), [(0.5e-3, False), (0.0, None)])
def test_of_a_large_cylinder_nobody_can_tell_by_its_label_when_it_is_dry(
    flow: float, dry: bool | None, make_bench: MakeBench
) -> None:
    """27 l leave 0.68 kg of vapour, known to 0.1 kg: with 0.7 kg left it may or may not give liquid still."""
    bench = make_bench(hz=2.0, window=(0.9, 1.0)).ready(gross=14.0, draw="liquid")
    bench.unmount()
    bench.feed(ev.MountContainer(bench.clock, "C2", "liquid", net_kg=0.750, water_capacity_m3=27e-3))
    bench.load_kg = 14.0
    bench.probes = {"ambient/temperature": 20.0, "container/temperature": 20.0, "high/pressure": 4e5}
    bench.run(4.0)
    bench.valve("container", is_open=True)
    bench.run(4.0, flow=HOSE_FULL_KG / 4.0)
    bench.run(4.0)
    bench.valve("high", is_open=True)
    bench.run(12.0, flow=2e-3)
    bench.run(12.0, flow=flow)
    hose = bench.job.course.hose
    assert hose is not None
    assert hose.dry is dry


def test_where_no_pressure_is_read_half_of_it_may_stay(make_bench: MakeBench) -> None:
    bench = _liquid_flows(make_bench, probes=False)
    _last_liquid_leaves(bench)
    wet_kg = bench.job.course.hold_up(bench.clock).mass_kg
    bench.run(60.0, flow=0.0)
    hose = _hose(bench)
    assert hose.mass_kg == pytest.approx(wet_kg / 2.0, abs=2e-3)
    assert hose.u_kg > wet_kg / 4.0


def test_a_dry_can_whose_circuit_is_shut_and_opened_again_gives_no_more(make_bench: MakeBench) -> None:
    bench = _liquid_flows(make_bench)
    _last_liquid_leaves(bench)
    bench.run(20.0, flow=0.0)
    charged_kg = bench.charged_kg
    bench.valve("high", is_open=False)
    bench.run(10.0)
    bench.valve("high", is_open=True)
    bench.run(20.0)
    assert bench.charged_kg == pytest.approx(charged_kg, abs=2e-3)


def test_a_hose_is_not_filled_by_time_alone(make_bench: MakeBench) -> None:
    """8 g have come, and the flow stops for the pressures are equal: 8 g are in hose and circuit together."""
    bench = _container_of_liquid(make_bench, SERVICE, 1.0, 0.8, container=20.0, high=5.8e5)
    bench.valve("container", is_open=True)
    bench.run(1.0, flow=8e-3)
    bench.valve("high", is_open=True)
    bench.run(14.0)
    assert bench.charged_kg == pytest.approx(0.0, abs=1.5e-3)
    assert _hose_kg(bench) == pytest.approx(8e-3, abs=1.5e-3)


def test_a_container_that_feeds_an_open_circuit_fills_the_hose_first(make_bench: MakeBench) -> None:
    bench = _container_of_liquid(make_bench, SERVICE, 1.0, 0.8, container=45.0, high=4e5)
    bench.valve("high", is_open=True)
    bench.run(3.0)
    bench.valve("container", is_open=True)
    bench.run(1.0, flow=16e-3)
    assert -3e-3 < bench.charged_kg < 12e-3


def test_a_label_of_nothing_breaks_nothing(make_bench: MakeBench) -> None:
    bench = make_bench(hz=5.0).ready(gross=0.4, draw="liquid", net=0.0)
    bench.probes = {"ambient/temperature": 20.0, "container/temperature": 20.0, "high/pressure": 4e5}
    bench.valve("container", is_open=True)
    bench.run(4.0, flow=5e-3)
    bench.valve("high", is_open=True)
    bench.run(10.0, flow=5e-3)
    assert bench.job.picture.charged.u_kg > 0.0
