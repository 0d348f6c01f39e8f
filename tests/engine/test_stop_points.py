"""Every row of the table has what a technician needs, and a bench script that raises it and, where it can, ends it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pytest

from fillmark.engine import events as ev
from fillmark.engine.setup import Limits
from fillmark.engine.stop_points import STOP_POINTS, Scope, Severity, StopPoint
from fillmark.engine.view import lives
from fillmark.refrigerants import facade

if TYPE_CHECKING:
    from tests.engine.conftest import Bench, MakeBench

DESIGNED = {
    "close-valve-now", "aim-reached", "window-reached", "window-exceeded", "container-empty", "flow-stalled",
    "scale-disturbed", "scale-overload", "reading-stale", "high-pressure-limit", "low-pressure-limit",
    "high-side-open-while-running", "liquid-to-low-side", "unexplained-mass-step", "wrong-refrigerant-suspected",
    "container-warming-limit",
}  # fmt: skip
"""The ids that other programs rely on."""


@dataclass(frozen=True)
class Script:
    """How to raise a stop point, how to end it, and words that its text must hold."""

    provoke: Callable[[MakeBench], Bench]
    end: Callable[[Bench], None]
    says: str


def _charged(make: MakeBench, mass_kg: float, *, net: float | None = None) -> Bench:
    bench = make(hz=1.0).ready(gross=1.0, net=net)
    bench.valve("low", is_open=True)
    bench.run(mass_kg / 2e-3, flow=2e-3)
    return bench


def _shut(bench: Bench) -> None:
    bench.valve("low", is_open=False)


def _take_out(bench: Bench) -> None:
    _shut(bench)
    bench.feed(ev.CorrectCharge(bench.clock, -0.1, "recovered by weight"))


def _swap(bench: Bench) -> None:
    _shut(bench)
    bench.unmount()
    bench.mount("C2", gross=0.8, net=0.34)


def _emptied(make: MakeBench) -> Bench:
    bench = _charged(make, 0.2, net=0.2)
    bench.run(10.0)
    return bench


def _stalled(make: MakeBench) -> Bench:
    bench = _charged(make, 0.1)
    bench.run(30.0)
    return bench


def _pushed_back(make: MakeBench) -> Bench:
    """The toy fluid's container is at 6 bar whatever its temperature; the circuit at 7."""
    bench = _charged(make, 0.1)
    bench.probes = {"low/pressure": 7e5, "container/temperature": 10.0}
    bench.run(20.0, flow=-2e-3)
    return bench


def _drawn_again(bench: Bench) -> None:
    bench.probes["low/pressure"] = 3e5
    bench.run(20.0, flow=2e-3)


def _resting(make: MakeBench) -> Bench:
    bench = _charged(make, 0.1)
    _shut(bench)
    bench.run(10.0)
    return bench


def _jolted(make: MakeBench) -> Bench:
    bench = _resting(make)
    bench.hz = 5.0
    for extra in (0.04, -0.03, 0.05):
        bench.extra_kg = extra
        bench.run(0.2)
    return bench


def _shaken(make: MakeBench) -> Bench:
    """The bench shakes by 4 g at 1.7 Hz while 2 g/s flow."""
    bench = make().ready(gross=1.0)
    bench.valve("low", is_open=True)
    _shake(bench, 0.004)
    return bench


def _shake(bench: Bench, swing_kg: float) -> None:
    for _ in range(300):
        bench.extra_kg = swing_kg * math.cos(2.0 * math.pi * 1.7 * bench.now)
        bench.run(0.2, flow=2e-3)


def _firm(bench: Bench) -> None:
    _shake(bench, 0.0)
    bench.run(30.0, flow=2e-3)


def _let_go(bench: Bench) -> None:
    bench.extra_kg = 0.0
    bench.run(5.0)


def _laid_down(make: MakeBench) -> Bench:
    bench = _resting(make)
    bench.extra_kg = 0.1
    bench.run(10.0)
    return bench


def _overloaded(make: MakeBench) -> Bench:
    return make(capacity=2.0).ready(gross=2.1)


def _lightened(bench: Bench) -> None:
    bench.load_kg = 1.0
    bench.run(3.0)


def _silent(make: MakeBench) -> Bench:
    bench = _charged(make, 0.1)
    bench.wait_until(bench.now + 60.0)
    return bench


def _probed(channel: str, value: float, *, engine: bool = False) -> Callable[[MakeBench], Bench]:
    def provoke(make: MakeBench) -> Bench:
        bench = make(limits=Limits(high_pressure_abs_pa=25e5)).ready()
        if engine:
            bench.engine(running=True)
            bench.wait_until(bench.now + 1.0)
        bench.read(channel, value)
        return bench

    return provoke


def _reads(channel: str, value: float) -> Callable[[Bench], None]:
    def later(bench: Bench) -> None:
        bench.wait_until(bench.now + 1.0)
        bench.read(channel, value)

    return later


def _liquid(make: MakeBench, *valves: ev.ValveName) -> Bench:
    bench = make(hz=1.0).ready(gross=1.0, draw="liquid")
    for valve in valves:
        bench.valve(valve, is_open=True)
        bench.run(5.0, flow=6.5e-3)
    return bench


def _high_open(make: MakeBench) -> Bench:
    bench = _liquid(make, "high")
    bench.engine(running=True)
    return bench


def _full_hose(make: MakeBench) -> Bench:
    bench = _liquid(make, "container", "high")
    bench.valve("high", is_open=False)
    bench.valve("container", is_open=False)
    return bench


def _foreign(make: MakeBench) -> Bench:
    bench = make().open_job()
    bench.begin()
    bench.mount(refrigerant="R-1")
    return bench


def _no_hose(make: MakeBench) -> Bench:
    return make(hose=None).ready()


def _blend(make: MakeBench) -> Bench:
    bench = make(fluid=facade.get("R-407C"), hz=1.0).ready(gross=1.0)
    bench.valve("low", is_open=True)
    return bench


def _recovering(make: MakeBench) -> Bench:
    """A cylinder of 1 L: full of toy liquid at 55 °C with 1 kg. It holds 0.5 kg and takes 0.46 kg more."""
    bench = make(hz=1.0).open_job()
    bench.begin("recovery")
    bench.load_kg = 1.5
    mount = ev.MountContainer(bench.clock, "RC1", tare_kg=1.0, recovers=True, water_capacity_m3=1e-3)
    bench.feed(mount)
    bench.run(5.0)
    bench.run(100.0, flow=-4.6e-3)
    return bench


def _another_cylinder(bench: Bench) -> None:
    bench.unmount()
    bench.mount("RC2", gross=1.0)


def _too_deep(make: MakeBench) -> Bench:
    """28 inHg of vacuum at 1000 m, where the atmosphere is 26.5 inHg (ISO 2533)."""
    bench = make(gauge=frozenset({"low/pressure"}), altitude=1000.0).open_job()
    bench.begin("evacuation")
    bench.read("low/pressure", -28 * 3386.389)
    return bench


def _nitrogen(make: MakeBench) -> Bench:
    bench = make(limits=Limits(test_pressure_abs_pa=10e5)).open_job()
    bench.begin("pressure_test")
    bench.read("low/pressure", 10.1e5)
    return bench


SCRIPTS: dict[str, Script] = {
    "close-valve-now": Script(lambda m: _charged(m, 0.499), _shut, "Close the low-side valve now"),
    "window-exceeded": Script(lambda m: _charged(m, 0.53), _take_out, "recover the excess by weight"),
    "high-side-open-while-running": Script(_high_open, lambda b: b.engine(running=False), "Shut the high-side valve"),
    "liquid-to-low-side": Script(lambda m: _liquid(m, "low"), _shut, "Shut the low-side valve"),
    "high-pressure-limit": Script(_probed("high/pressure", 26e5), _reads("high/pressure", 20e5), "Stop the engine"),
    "container-warming-limit": Script(
        _probed("container/temperature", 51.0), _reads("container/temperature", 45.0), "Take the heat away"
    ),
    "wrong-refrigerant-suspected": Script(_foreign, lambda b: b.unmount(), "Shut it"),
    "reading-stale": Script(_silent, lambda b: b.run(1.0), "shut the valve until it speaks again"),
    "unexplained-mass-step": Script(_laid_down, lambda b: b.feed(ev.ExplainStep(b.clock, "handling")), "Say so"),
    "scale-overload": Script(_overloaded, _lightened, "unload it"),
    "aim-reached": Script(lambda m: _charged(m, 0.505), _take_out, "Keep the valve shut"),
    "container-empty": Script(_emptied, _swap, "change it"),
    "flow-reversed": Script(_pushed_back, _drawn_again, "flows back into C1: circuit 7.0 bar, container about 6.0 bar"),
    "flow-stalled": Script(_stalled, lambda b: b.run(10.0, flow=2e-3), "Warm it in water below 40 °C"),
    "scale-disturbed": Script(_jolted, _let_go, "Take hand, hose and tools off it"),
    "scale-unsteady": Script(_shaken, _firm, "Set the scale on firm ground"),
    "low-pressure-limit": Script(
        _probed("low/pressure", 0.9e5, engine=True), _reads("low/pressure", 2e5), "Stop the compressor"
    ),
    "hose-holds-liquid": Script(_full_hose, lambda b: b.feed(ev.RecoverHose(b.clock, 0.033)), "Recover it"),
    "window-reached": Script(lambda m: _charged(m, 0.49), _take_out, "minimum of 480 g is in"),
    "blend-as-vapour": Script(_blend, _shut, "turn the container"),
    "cylinder-fill-limit": Script(_recovering, _another_cylinder, "change the cylinder"),
    "gauge-reading-impossible": Script(_too_deep, _reads("low/pressure", -80e3), "holds only 26.5 inHg"),
    "test-pressure-limit": Script(_nitrogen, _reads("low/pressure", 9e5), "Shut the nitrogen"),
    "hose-not-declared": Script(_no_hose, lambda b: b.end(), "Give its length and bore"),
}


def test_every_designed_stop_point_is_in_the_table() -> None:
    assert set(STOP_POINTS) >= DESIGNED


def test_every_row_has_a_bench_script_and_every_script_a_row() -> None:
    assert set(SCRIPTS) == set(STOP_POINTS)


@pytest.mark.parametrize("row", STOP_POINTS.values(), ids=lambda row: row.id)
def test_a_row_says_what_to_do_why_and_where_the_rule_comes_from(row: StopPoint) -> None:
    assert row.what.endswith(".")
    assert row.why.endswith(".")
    assert len(row.source) > 3
    assert row.severity in Severity
    assert row.scope in Scope
    assert callable(row.condition)
    assert row.condition.__doc__


def test_no_stop_point_that_guards_people_can_be_put_aside() -> None:
    assert all(not row.shelvable for row in STOP_POINTS.values() if row.severity is Severity.CRITICAL)
    assert any(row.shelvable for row in STOP_POINTS.values())


def test_the_most_pressing_come_first() -> None:
    order = list(Severity)
    ranks = [order.index(row.severity) for row in STOP_POINTS.values()]
    assert ranks == sorted(ranks)
    assert next(iter(STOP_POINTS)) == "close-valve-now"


@pytest.mark.parametrize("stop_point", STOP_POINTS)
def test_a_bench_raises_it_with_words_that_help_and_ends_it(stop_point: str, make_bench: MakeBench) -> None:
    script = SCRIPTS[stop_point]
    bench = script.provoke(make_bench)
    raised = bench.raised(stop_point)
    assert len(raised) == 1, [t.text for t in raised]
    assert stop_point in bench.active
    assert script.says in raised[0].text
    script.end(bench)
    assert stop_point not in bench.active
    gone = [t for t in bench.moved if t.id == stop_point][-1]
    assert gone.text
    assert gone.after.value == (
        "latched unacknowledged" if STOP_POINTS[stop_point].latching else "returned to normal unacknowledged"
    )


@pytest.mark.parametrize(
    "stop_point", [row.id for row in STOP_POINTS.values() if row.scope is Scope.CHARGING], ids=lambda i: i
)
def test_outside_the_charging_step_it_is_suppressed_by_design(stop_point: str, make_bench: MakeBench) -> None:
    bench = make_bench(hose=None).open_job()
    bench.begin("evacuation")
    assert lives(bench.job)[stop_point] == "suppressed by design"
    bench.end()
    bench.begin()
    assert lives(bench.job)[stop_point] != "suppressed by design"


def test_what_guards_people_is_watched_in_every_step(make_bench: MakeBench) -> None:
    for step in ("recovery", "pressure_test", "evacuation", "vacuum_hold", "performance_test"):
        bench = make_bench().open_job()
        bench.begin(step)
        bench.engine(running=True)
        bench.valve("high", is_open=True)
        bench.read("container/temperature", 60.0)
        assert {"high-side-open-while-running", "container-warming-limit"} <= bench.active
