"""Conditions that hang on physics: real refrigerants, gauge and absolute, thresholds with their hysteresis."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from fillmark.engine.setup import Hose, Limits
from fillmark.refrigerants import facade

if TYPE_CHECKING:
    from tests.engine.conftest import Bench, MakeBench

START_S = 1_800_000_000.0


def _standing(make: MakeBench, fluid: str, *, low: float, high: float, ambient: float, volume: float | None) -> Bench:
    bench = make(fluid=facade.get(fluid), volume=volume).ready(gross=1.0)
    bench.probes = {"low/pressure": low, "high/pressure": high, "ambient/temperature": ambient}
    bench.run(2.0)
    return bench


@pytest.mark.parametrize(
    ("fluid", "pressure_pa", "suspected"),
    # Saturation at 25 °C: R-134a 665.38 kPa (Tillner-Roth and Baehr 1994), R-1234yf 682.7 kPa (Lemmon and Akasaka
    # 2022), R-290 952.07 kPa (Lemmon, McLinden and Wagner 2009). 5 K and 3 % are allowed.
    [
        ("R-134a", 665e3, False),
        ("R-134a", 500e3, False),  # superheated: too little in it to know
        ("R-1234yf", 683e3, False),
        ("R-134a", 683e3, False),  # nobody can tell these two apart by pressure
        ("R-134a", 952e3, True),  # propane in it
        ("R-290", 952e3, False),
        ("R-1234yf", 952e3, True),
    ],
)
def test_a_standing_circuit_shows_what_is_in_it(
    fluid: str, pressure_pa: float, suspected: bool, make_bench: MakeBench
) -> None:
    bench = _standing(make_bench, fluid, low=pressure_pa, high=pressure_pa, ambient=25.0, volume=None)
    assert ("wrong-refrigerant-suspected" in bench.active) is suspected


def test_a_circuit_whose_sides_differ_is_no_circuit_at_rest(make_bench: MakeBench) -> None:
    bench = _standing(make_bench, "R-134a", low=300e3, high=1500e3, ambient=25.0, volume=None)
    assert "wrong-refrigerant-suspected" not in bench.active


def test_after_the_engine_ran_the_pressure_says_nothing(make_bench: MakeBench) -> None:
    bench = make_bench(fluid=facade.get("R-134a")).ready(gross=1.0)
    bench.engine(running=True)
    bench.engine(running=False)
    bench.probes = {"low/pressure": 952e3, "high/pressure": 952e3, "ambient/temperature": 25.0}
    bench.run(2.0)
    assert "wrong-refrigerant-suspected" not in bench.active


def test_without_ambient_temperature_nothing_is_suspected(make_bench: MakeBench) -> None:
    bench = make_bench(fluid=facade.get("R-134a")).ready(gross=1.0)
    bench.probes = {"low/pressure": 952e3, "high/pressure": 952e3}
    bench.run(2.0)
    assert "wrong-refrigerant-suspected" not in bench.active


def test_r_744_above_its_critical_temperature_has_no_saturation_to_compare_with(make_bench: MakeBench) -> None:
    bench = _standing(make_bench, "R-744", low=90e5, high=90e5, ambient=38.0, volume=2e-3)
    assert "wrong-refrigerant-suspected" not in bench.active
    assert bench.view["saturation"] == {"low_dew_k": None, "high_bubble_k": None}


def test_gauge_pressure_becomes_absolute_with_the_altitude(make_bench: MakeBench) -> None:
    """24.2 bar gauge at 1500 m (84556 Pa, ISO 2533) are 25.05 bar absolute: above a limit of 25 bar; at 2000 m not."""
    for altitude, above in ((1500.0, True), (2000.0, False)):
        bench = make_bench(
            gauge=frozenset({"high/pressure"}), altitude=altitude, limits=Limits(high_pressure_abs_pa=25e5)
        ).open_job()
        bench.read("high/pressure", 24.2e5 - 40.0)
        assert ("high-pressure-limit" in bench.active) is above
        assumed = bench.view["assumed"]
        assert isinstance(assumed, list)
        assert any("from altitude" in line for line in assumed)


def test_a_channel_that_is_not_declared_gauge_is_absolute(make_bench: MakeBench) -> None:
    bench = make_bench(gauge=frozenset({"low/pressure"}), limits=Limits(high_pressure_abs_pa=25e5)).open_job()
    bench.read("high/pressure", 24.5e5)
    bench.read("low/pressure", 2e5)
    assert bench.job.course.pressure_abs_pa("high/pressure") == 24.5e5
    assert bench.job.course.pressure_abs_pa("low/pressure") == pytest.approx(2e5 + 101325.0)
    assert "high-pressure-limit" not in bench.active


def test_a_measured_barometer_goes_before_the_altitude(make_bench: MakeBench) -> None:
    bench = make_bench(gauge=frozenset({"low/pressure"}), altitude=2000.0).open_job()
    bench.read("ambient/pressure", 99e3)
    bench.read("low/pressure", 1e5)
    assert bench.job.course.pressure_abs_pa("low/pressure") == pytest.approx(199e3)


def test_a_pressure_below_nothing_is_unknown(make_bench: MakeBench) -> None:
    bench = make_bench(gauge=frozenset({"low/pressure"}), altitude=2000.0).open_job()
    bench.engine(running=True)
    bench.read("low/pressure", -100e3)
    assert bench.job.course.pressure_abs_pa("low/pressure") is None
    assert "low-pressure-limit" not in bench.active


def test_an_engine_started_on_a_vacuum_may_wait_for_the_first_vapour_and_no_longer(make_bench: MakeBench) -> None:
    """Charging from a vacuum begins below the atmosphere: common practice, no source."""
    for rises in (True, False):
        bench = make_bench().ready()
        bench.read("low/pressure", 500.0)
        bench.engine(running=True)
        begun = bench.now
        for second in range(1, 31):
            bench.wait_until(begun + second)
            bench.read("low/pressure", 500.0 + 12e3 * second * rises)
        raised = bench.raised("low-pressure-limit")
        assert [round(one.at_s - START_S - begun) for one in raised] == ([] if rises else [20])


def test_a_low_side_that_the_compressor_draws_down_is_called_at_once(make_bench: MakeBench) -> None:
    bench = make_bench().ready()
    bench.read("low/pressure", 3e5)
    bench.engine(running=True)
    bench.wait_until(bench.now + 2.0)
    bench.read("low/pressure", 0.9e5)
    assert "low-pressure-limit" in bench.active


def test_it_is_called_although_no_reading_comes_at_that_moment(make_bench: MakeBench) -> None:
    bench = make_bench().ready()
    for second in range(3):
        bench.wait_until(bench.now + 8.0)
        bench.read("low/pressure", 500.0 + second)
    bench.engine(running=True)
    begun = bench.now
    bench.wait_until(begun + 14.0)
    bench.read("low/pressure", 600.0)
    bench.wait_until(begun + 25.0)
    (raised,) = bench.raised("low-pressure-limit")
    assert raised.at_s - START_S - begun == pytest.approx(20.0, abs=0.01)


THRESHOLDS = {
    "high-pressure-limit": ("high/pressure", 25e5, -0.5e5),
    "container-warming-limit": ("container/temperature", 50.0, -1.0),
    "low-pressure-limit": ("low/pressure", 101325.0, 5e3),
    "scale-overload": ("scale/mass", 2.0, -0.01),
}


@pytest.mark.parametrize("stop_point", THRESHOLDS)
def test_noise_at_a_threshold_is_one_call_and_not_ten(stop_point: str, make_bench: MakeBench) -> None:
    channel, threshold, back = THRESHOLDS[stop_point]
    bench = make_bench(limits=Limits(high_pressure_abs_pa=25e5), capacity=2.0).open_job()
    bench.engine(running=True)
    for index in range(20):
        bench.wait_until(float(index + 1))
        bench.read(channel, threshold + (back if index % 2 else 0.0))
    assert len(bench.raised(stop_point)) == 1


def test_the_high_side_may_be_open_while_the_engine_stands(make_bench: MakeBench) -> None:
    bench = make_bench().ready(draw="liquid")
    bench.valve("high", is_open=True)
    bench.engine(running=False)
    assert not {"high-side-open-while-running", "liquid-to-low-side"} & bench.active


@pytest.mark.parametrize("draw", ["vapour", "liquid"])
def test_liquid_belongs_to_the_high_side_and_vapour_to_the_low(draw: str, make_bench: MakeBench) -> None:
    bench = make_bench().ready(draw="liquid" if draw == "liquid" else "vapour")
    bench.valve("low", is_open=True)
    assert ("liquid-to-low-side" in bench.active) is (draw == "liquid")


def test_an_engine_that_nobody_reported_is_unknown_and_raises_nothing(make_bench: MakeBench) -> None:
    bench = make_bench().ready()
    bench.valve("high", is_open=True)
    bench.read("low/pressure", 0.5e5)
    assert not {"high-side-open-while-running", "low-pressure-limit"} & bench.active


def test_a_hose_with_a_shut_off_may_be_unscrewed_full(make_bench: MakeBench) -> None:
    bench = make_bench(hose=Hose(1.8, 4.8e-3, shutoff=True)).ready(draw="liquid")
    bench.valve("container", is_open=True)
    bench.run(5.0, flow=6.5e-3)
    bench.valve("container", is_open=False)
    assert "hose-holds-liquid" not in bench.active


def test_an_unknown_capacity_is_never_exceeded(make_bench: MakeBench) -> None:
    bench = make_bench().ready(gross=100.0)
    assert "scale-overload" not in bench.active
