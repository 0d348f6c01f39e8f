"""Steps that watch a pressure or a running circuit, as part of a job."""

from __future__ import annotations

import math
import random
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from fillmark.engine import events as ev
from fillmark.engine.report import Report
from fillmark.engine.setup import Hose, Limits, VacuumGauge, VacuumPump
from fillmark.engine.step_folds import step_report
from fillmark.engine.vacuum.leak_rate import EQUIVALENT_CAUTION
from fillmark.refrigerants import facade

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.engine.conftest import Bench, MakeBench

VOLUME_M3 = 4e-3


def vacuum_bench(make_bench: MakeBench, step: str, resolution_pa: float = 1.0) -> Bench:
    bench = make_bench(hose=None, volume=VOLUME_M3, limits=Limits(test_pressure_abs_pa=15e5))
    bench.setup = replace(bench.setup, vacuum_gauge=VacuumGauge(resolution_pa), pump=VacuumPump(1e-3))
    bench.open_job()
    bench.begin(step)
    return bench


def watch(bench: Bench, channel: str, seconds: float, pressure: Callable[[float], float], every: float = 5.0) -> None:
    """Let a gauge show whole pascals for a while."""
    begun = bench.now
    while bench.now - begun < seconds:
        bench.wait_until(bench.now + every)
        bench.read(channel, float(round(pressure(bench.now - begun))))


def report(bench: Bench) -> Report:
    found = step_report(bench.job.course)
    assert found is not None
    return found


def ended(bench: Bench) -> Report:
    bench.end()
    found = bench.job.course.steps[-1].report
    assert found is not None
    return found


def test_a_straight_rise_is_a_leak_of_volume_times_slope(make_bench: MakeBench) -> None:
    """Pfeiffer Vacuum, Know-how book section 7.1.2 (read): Q = V dp/dt. 0.5 Pa/s in 4 L are 2e-3 Pa m³/s."""
    bench = vacuum_bench(make_bench, "vacuum_hold")
    bench.read("ambient/temperature", 20.0)
    bench.valve("vacuum", is_open=False)
    watch(bench, "vacuum/pressure", 1800.0, lambda t: 40.0 + 0.5 * t)
    found = ended(bench)
    assert found.verdict == "leaking"
    assert found.numbers["q_pa_m3_s"] == pytest.approx(2e-3, rel=0.1)
    assert found.does_not_prove
    (as_refrigerant,) = (line for line in found.measured if "µg/s" in line)
    assert as_refrigerant.endswith(EQUIVALENT_CAUTION)


def test_a_still_gauge_is_tight_and_says_what_it_could_have_seen(make_bench: MakeBench) -> None:
    bench = vacuum_bench(make_bench, "vacuum_hold")
    bench.valve("vacuum", is_open=False)
    watch(bench, "vacuum/pressure", 1800.0, lambda _: 30.0)
    found = ended(bench)
    assert found.verdict == "tight"
    limit = found.numbers["limit_q_pa_m3_s"]
    assert isinstance(limit, float)
    assert 0.0 < limit < 4e-3 * 37.0 / 1800.0  # a leak of 0.037 Pa/s, by hand, must have been visible
    assert not any("µg/s" in line for line in found.measured)  # no leak was found, so none is reckoned in refrigerant


def test_while_the_pump_draws_nothing_is_held(make_bench: MakeBench) -> None:
    bench = vacuum_bench(make_bench, "vacuum_hold")
    bench.valve("vacuum", is_open=True)
    watch(bench, "vacuum/pressure", 600.0, lambda t: 5000.0 * math.exp(-t / 60.0))
    assert report(bench).verdict == "undecided"
    bench.valve("vacuum", is_open=False)
    watch(bench, "vacuum/pressure", 1800.0, lambda _: 10.0)
    assert ended(bench).verdict == "tight"


def test_without_a_gauge_the_hold_is_unknown(make_bench: MakeBench) -> None:
    bench = vacuum_bench(make_bench, "vacuum_hold")
    assert report(bench).verdict == "unknown"


def test_the_pull_down_has_the_time_constant_of_volume_over_speed(make_bench: MakeBench) -> None:
    """Textbook: p = p0 exp(-S t / V). 4 L drawn on with 0.1 L/s have 40 s."""
    bench = vacuum_bench(make_bench, "evacuation")
    bench.read("ambient/temperature", 20.0)
    bench.valve("vacuum", is_open=True)
    watch(bench, "vacuum/pressure", 600.0, lambda t: 20.0 + 1e5 * math.exp(-t / 40.0), every=2.0)
    found = ended(bench)
    assert found.numbers["tau_s"] == pytest.approx(40.0, rel=0.1)
    assert found.numbers["plateau_pa"] == pytest.approx(20.0, abs=2.0)
    assert found.numbers["boils"] is True


def test_what_pump_and_hose_are_decides_what_an_evacuation_can_say(make_bench: MakeBench) -> None:
    verdicts = []
    for pump in (VacuumPump(1e-3), VacuumPump(1e-3, 160.0, Hose(1.5, 8e-3))):
        bench = vacuum_bench(make_bench, "evacuation")
        bench.end()
        bench.setup = replace(bench.setup, pump=pump)
        bench.close_job()
        bench.open_job()
        bench.feed(ev.BeginStep(bench.clock, "evacuation", "one step only", 50.0))
        bench.read("ambient/temperature", 20.0)
        watch(bench, "vacuum/pressure", 600.0, lambda t: 160.0 + 1e5 * math.exp(-t / 8.0), every=2.0)
        found = ended(bench)
        verdicts.append(found.verdict)
        assert found.numbers["target_pa"] == 50.0
    assert verdicts == ["undecided", "pump_limit"]
    assert found.numbers["target_in_reach"] is False


def test_nitrogen_that_cools_is_tight_and_nitrogen_that_goes_is_not(make_bench: MakeBench) -> None:
    """p / T stays in a closed volume: 10 bar at 293.15 K are 9.898 bar at 290.15 K, by hand."""
    verdicts = {}
    for name, loss in (("cools", 0.0), ("leaks", 20.0)):
        bench = vacuum_bench(make_bench, "pressure_test")
        begun = bench.now

        def pressure(t: float, loss: float = loss) -> float:
            return 10e5 * (293.15 - 3.0 * t / 1800.0) / 293.15 - loss * t

        while bench.now - begun < 1800.0:
            bench.wait_until(bench.now + 10.0)
            t = bench.now - begun
            bench.read("ambient/temperature", 20.0 - 3.0 * t / 1800.0)
            bench.read("low/pressure", 100.0 * round(pressure(t) / 100.0))
        verdicts[name] = ended(bench)
    assert verdicts["cools"].verdict == "tight"
    assert verdicts["leaks"].verdict == "leaking"
    assert verdicts["leaks"].numbers["fall_pa"] == pytest.approx(20.0 * 1800.0, rel=0.05)


def test_nitrogen_that_is_let_in_begins_the_test_anew(make_bench: MakeBench) -> None:
    bench, noise = vacuum_bench(make_bench, "pressure_test"), random.Random(3)
    watch(bench, "low/pressure", 120.0, lambda t: 1e5 + 8e5 * t / 120.0 + noise.gauss(0.0, 500.0))
    watch(bench, "low/pressure", 900.0, lambda _: 9e5 + noise.gauss(0.0, 500.0), every=10.0)
    found = ended(bench)
    duration = found.numbers["duration_s"]
    assert isinstance(duration, float)
    assert 880.0 < duration < 905.0
    assert any("Nitrogen came in" in line for line in found.measured)


def test_noise_and_an_evening_that_cools_do_not_begin_it_anew(make_bench: MakeBench) -> None:
    """Noise of 4 kPa lets every sixth reading stand 0.4 % above the one before; nothing was let in."""
    bench, noise = vacuum_bench(make_bench, "pressure_test"), random.Random(4)
    for _ in range(180):
        bench.wait_until(bench.now + 10.0)
        kelvin = 295.0 - 4.0 * bench.now / 1800.0
        bench.read("ambient/temperature", kelvin - 273.15)
        bench.read("low/pressure", float(round(9e5 * kelvin / 295.0 + noise.gauss(0.0, 4e3), -2)))
    found = ended(bench)
    duration = found.numbers["duration_s"]
    assert isinstance(duration, float)
    assert duration > 1780.0
    assert not any("Nitrogen came in" in line for line in found.measured)
    assert any("stood still" in line for line in found.measured)


def test_superheat_and_subcooling_of_a_running_circuit(make_bench: MakeBench) -> None:
    """R-134a, ASHRAE Fundamentals (from memory): 0.29280 MPa is 0 °C, 1.0166 MPa is 40 °C."""
    bench = make_bench(fluid=facade.get("R-134a")).open_job()
    bench.begin("performance_test")
    bench.engine(running=True)
    readings = {
        "low/pressure": 292.8e3,
        "high/pressure": 1016.6e3,
        "suction/temperature": 6.0,
        "liquid/temperature": 35.0,
        "vent/temperature": 8.0,
        "ambient/temperature": 25.0,
    }
    for _ in range(70):
        bench.wait_until(bench.now + 5.0)
        for channel, value in readings.items():
            bench.read(channel, value)
    found = ended(bench)
    assert found.numbers["superheat_k"] == pytest.approx(6.0, abs=0.1)
    assert found.numbers["subcooling_k"] == pytest.approx(5.0, abs=0.1)
    assert found.numbers["condensing_over_ambient_k"] == pytest.approx(15.0, abs=0.1)
    assert found.numbers["settled"] is True
    assert found.measured


def test_a_compound_gauge_reads_below_the_barometer(make_bench: MakeBench) -> None:
    """29 inHg of vacuum at 29.921 inHg of air are 0.921 inHg, 3119 Pa absolute (conventional inch, NIST SP 811)."""
    bench = make_bench()
    bench.setup = replace(bench.setup, vacuum_gauge=VacuumGauge(3386.389, compound=True))
    bench.open_job()
    bench.feed(ev.BeginStep(bench.clock, "evacuation", "one step only"))
    bench.read("vacuum/pressure", -29.0 * 3386.389)
    assert bench.job.course.pressure_abs_pa("vacuum/pressure") == pytest.approx(3119.7, abs=2.0)


def test_a_vacuum_deeper_than_the_air_is_refused_and_the_step_says_why(make_bench: MakeBench) -> None:
    """24.97 inHg at 1500 m (ISO 2533: 84.56 kPa): 27 inHg cannot be, 24 inHg can."""
    bench = make_bench()
    bench.setup = replace(bench.setup, vacuum_gauge=VacuumGauge(3386.389, compound=True), altitude_m=1500.0)
    bench.open_job()
    bench.feed(ev.BeginStep(bench.clock, "evacuation", "one step only"))
    for _ in range(20):
        bench.wait_until(bench.now + 5.0)
        bench.read("vacuum/pressure", -27.0 * 3386.389)
    assert bench.job.course.pressure_abs_pa("vacuum/pressure") is None
    (raised,) = bench.raised("gauge-reading-impossible")
    assert "27.0 inHg of vacuum" in raised.text
    assert report(bench).next == (raised.text.removeprefix("vacuum/pressure is not used. "),)
    bench.wait_until(bench.now + 5.0)
    bench.read("vacuum/pressure", -24.0 * 3386.389)
    assert "gauge-reading-impossible" not in bench.active
    assert bench.job.course.pressure_abs_pa("vacuum/pressure") == pytest.approx(84556 - 24.0 * 3386.389, abs=20.0)
