"""Whole visits: order of the trade, truth, conservation, determinism, the wire."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import cast

import pytest

from fillmark.wire.actions import ACTION
from fillmark.wire.channels import normalise
from fillmark.wire.senml import decode, encode
from fillmark_agent.drivers.simulated import Simulation, build_bay
from fillmark_sim import Pack, scenarios, write_stream
from fillmark_sim.build import build
from fillmark_sim.scenario import Circuit, Scenario
from fillmark_sim.vacuum.gauge import INHG_PA
from fillmark_sim.visit import Visit
from fillmark_sim.visit_bench import NothingToRecoverError
from fillmark_sim.visit_scenario import Recover, VisitScenario

WHOLE = "refrigerated-van-whole-job"
SEED = 7
Run = tuple[Visit, tuple[Pack, ...]]


def _by_hand(scenario: Scenario) -> Scenario:
    return replace(scenario, technician=replace(scenario.technician, policy="by_hand"))


@cache
def _run(name: str) -> Run:
    visit = build(_by_hand(scenarios.get(name)), SEED)
    assert isinstance(visit, Visit)
    return visit, tuple(visit.packs())


@pytest.fixture(scope="module")
def run() -> Callable[[str], Run]:
    """A demo visit, finished, by name. Nobody listens."""
    return _run


def _actions(packs: Iterable[Pack]) -> list[dict[str, object]]:
    return [json.loads(record.text) for pack in packs for record in pack.records if record.text is not None]


def _values(packs: Iterable[Pack], channel: str) -> list[tuple[float, float]]:
    return [
        (record.time_s, record.value)
        for pack in packs
        for record in pack.records
        if record.name == f"bay-1/{channel}" and record.value is not None
    ]


def _truth(visit: Visit, step: str) -> dict[str, float]:
    return cast("dict[str, float]", visit.truth.steps[step])


@pytest.mark.parametrize("name", scenarios.visits())
def test_every_visit_speaks_the_wire_in_order_and_stays_small(name: str, run: Callable[[str], Run]) -> None:
    _, packs = run(name)
    arrivals = [pack.arrival_s for pack in packs]
    assert arrivals == sorted(arrivals)
    for pack in packs:
        for record in decode(encode(pack.records), now_s=pack.arrival_s):
            assert normalise(record) == record
    actions = _actions(packs)
    for action in actions:
        ACTION.validate_python(action)
    assert [actions[0]["type"], actions[-1]["type"]] == ["job.open", "job.close"]
    begun = [one["type"] for one in actions].count("step.begin")
    assert [one["type"] for one in actions].count("step.end") == begun > 0
    assert sum(len(encode(pack.records)) + 1 for pack in packs) < 300_000


def test_the_whole_job_goes_in_the_order_of_the_trade(run: Callable[[str], Run]) -> None:
    visit, packs = run(WHOLE)
    actions = _actions(packs)
    assert [one["step"] for one in actions if one["type"] == "step.begin"] == [
        "recovery", "pressure_test", "evacuation", "vacuum_hold", "charging", "performance_test",
    ]  # fmt: skip
    kinds = [one["type"] for one in actions]
    assert kinds.count("job.open") == kinds.count("job.close") == 1
    replaced = [one["component"] for one in actions if one["type"] == "component.replaced"]
    assert replaced == ["drier", "condenser"]
    assert kinds.index("component.replaced") > kinds.index("oil")
    pump = [one["running"] for one in actions if one["type"] == "pump"]
    assert pump == [True, False]
    assert visit.truth.charged_kg == pytest.approx(0.72, abs=0.001)
    assert list(visit.truth.steps) == ["recovery", "pressure_test", "evacuation", "vacuum_hold"]
    at = visit.truth.at
    assert at["recovery-begun"] < at["pressure_test-shut"] < at["vacuum_hold-shut"] < at["first-flow"] < at[
        "performance-begun"
    ]  # fmt: skip


def test_the_scale_shows_what_was_recovered(run: Callable[[str], Run]) -> None:
    for name in ("refuse-truck-recovery", WHOLE):
        visit, packs = run(name)
        truth = _truth(visit, "recovery")
        out = truth["recovered_kg"] + sum(truth[f"left_{place}_kg"] for place in ("in_oil", "as_vapour", "in_machine"))
        assert truth["left_in_machine_kg"] < 1e-4
        assert out == pytest.approx(truth["charge_kg"], abs=1e-9)
        until = visit.truth.at["pulled-down-2"] + 205.0
        shown = [value for time_s, value in _values(packs, "scale/mass") if time_s < until]
        # Gross at its greatest less tare and content: within the scale's step, noise and drift.
        assert max(shown) - 8.4 == pytest.approx(truth["recovered_kg"], abs=0.003)


def test_the_full_cylinder_is_changed_and_sooner_when_somebody_calls(run: Callable[[str], Run]) -> None:
    visit, packs = run("ambulance-full-cylinder")
    mounted = [one["container"] for one in _actions(packs) if one["type"] == "container.mount"]
    assert mounted == ["RC1", "RC2"]
    own = cast("list[dict[str, float]]", visit.truth.steps["recovery"]["cylinders"])
    assert own[0]["content_kg"] < own[0]["liquid_full_kg"]
    called = build(scenarios.get("ambulance-full-cylinder"), SEED)
    assert isinstance(called, Visit)
    for _ in called.packs():
        called.hear("cylinder-fill-limit")
    heard = cast("list[dict[str, float]]", called.truth.steps["recovery"]["cylinders"])
    assert heard[0]["content_kg"] < own[0]["content_kg"] - 0.1
    assert heard[1]["content_kg"] > own[1]["content_kg"] + 0.1


def test_nitrogen_that_cools_follows_p_over_t(run: Callable[[str], Run]) -> None:
    visit, packs = run("forklift-nitrogen-cools")
    truth = _truth(visit, "pressure_test")
    assert visit.truth.steps["pressure_test"]["truth"] == "tight"
    assert truth["last_pa"] / truth["first_pa"] == pytest.approx(truth["last_k"] / truth["first_k"], rel=1e-9)
    assert truth["first_k"] - truth["last_k"] > 3.0
    shut_s = visit.truth.at["pressure_test-shut"]
    shown = [value for time_s, value in _values(packs, "high/pressure") if shut_s + 5.0 < time_s < shut_s + 1490.0]
    assert shown[0] == pytest.approx(truth["first_pa"], rel=0.005)
    assert shown[-1] == pytest.approx(truth["last_pa"], rel=0.005)


def test_nitrogen_leaks_with_the_square_of_its_pressure(run: Callable[[str], Run]) -> None:
    visit, _ = run("tram-nitrogen-leak")
    truth = _truth(visit, "pressure_test")
    # By hand: 6e-4 Pa·m³/s into a vacuum, 8.9 bar against 1.01325 bar, 1500 s, 5.2 l.
    expected = -6.0e-4 * ((8.90 / 1.01325) ** 2 - 1.0) * 1500.0 / 5.2e-3
    assert truth["leak_rise_pa"] == pytest.approx(expected, rel=0.01)
    assert truth["temperature_rise_pa"] == pytest.approx(truth["first_pa"] * 2.0 / 297.2, rel=0.1)


@pytest.mark.parametrize(
    ("name", "limited", "held"),
    [
        ("dumper-evacuation-dry", "pump", "tight"), ("river-boat-evacuation-wet", "water", "wet"),
        ("road-roller-thin-hose", "still-falling", None), ("coach-small-pump", "pump", "tight"),
        ("paver-hold-sun", "pump", "tight"), ("milk-lorry-hold-leak", None, "leaking"),
        ("mower-hold-wet", "water", "wet"), ("fire-engine-hold-oil", "oil", "wet"),
        ("taxi-needle-hold", "leak", "leaking"), ("loader-skips-nitrogen", "water", "both"), (WHOLE, "pump", "tight"),
    ],
)  # fmt: skip
def test_each_visit_is_what_its_title_says(
    name: str, limited: str | None, held: str | None, run: Callable[[str], Run]
) -> None:
    visit, _ = run(name)
    if limited is not None:
        assert visit.truth.steps["evacuation"]["limited_by"] == limited
    if held is not None:
        assert visit.truth.steps["vacuum_hold"]["truth"] == held


def test_wet_holds_level_off_at_the_saturation_of_the_coldest_spot(run: Callable[[str], Run]) -> None:
    # At 9 °C between 872.6 Pa (5 °C, ASHRAE Fundamentals 2017, chapter 1, table 3) and 1228.2 Pa (10 °C, IAPWS-95).
    visit, _ = run("mower-hold-wet")
    assert 872.6 + 0.7 * (1228.2 - 872.6) < _truth(visit, "vacuum_hold")["last_pa"] < 1228.2


def test_a_needle_shows_whole_inches_below_the_atmosphere(run: Callable[[str], Run]) -> None:
    visit, packs = run("taxi-needle-hold")
    opened = _actions(packs)[0]
    assert opened["gauge"] == ["vacuum/pressure"]
    assert opened["vacuum_gauge"] == {"resolution": "1 inHg", "kind": "compound"}
    shown = {round(value / INHG_PA, 4) for _, value in _values(packs, "vacuum/pressure")}
    assert shown == {round(one) for one in shown}
    assert -30 <= min(shown) <= -28
    assert _truth(visit, "vacuum_hold")["leak_rise_pa"] < INHG_PA / 4.0


def test_a_needle_off_its_zero_shows_more_vacuum_than_there_is_air(run: Callable[[str], Run]) -> None:
    # ISO 2533 at 1500 m: 84 556 Pa, 24.97 inHg.
    _, packs = run("hill-bus-needle-off")
    assert min(value for _, value in _values(packs, "vacuum/pressure")) < -84556.0


def test_he_shuts_the_nitrogen_when_somebody_calls(run: Callable[[str], Run]) -> None:
    visit, _ = run("ferry-nitrogen-limit")
    assert _truth(visit, "pressure_test")["first_pa"] > 9.0e5
    called = build(scenarios.get("ferry-nitrogen-limit"), SEED)
    assert isinstance(called, Visit)
    for _ in called.packs():
        if called.dry is not None and called.dry.pressure_pa > 9.0e5:
            called.hear("test-pressure-limit")
    assert 8.9e5 < _truth(called, "pressure_test")["first_pa"] < 9.4e5


def test_the_same_seed_gives_the_same_packs_and_another_seed_does_not(run: Callable[[str], Run]) -> None:
    name = "loader-skips-nitrogen"
    first = [encode(pack.records) for pack in run(name)[1]]
    assert first == [encode(pack.records) for pack in build(_by_hand(scenarios.get(name)), SEED).packs()]
    assert first != [encode(pack.records) for pack in build(_by_hand(scenarios.get(name)), SEED + 1).packs()]


def test_a_stream_of_a_visit_is_written_with_its_truth(tmp_path: Path) -> None:
    truth = write_stream(tmp_path / "hold", scenarios.get("milk-lorry-hold-leak"), SEED)
    written = json.loads((tmp_path / "hold.truth.json").read_text(encoding="utf-8"))
    assert written == truth.to_json()
    assert written["steps"]["vacuum_hold"]["leak_q_vacuum_pa_m3_s"] == 2.5e-4
    lines = (tmp_path / "hold.senml.jsonl").read_text(encoding="utf-8").splitlines()
    assert all(decode(line, now_s=0.0) for line in lines)


def test_the_agent_plays_a_visit_as_it_plays_a_charge() -> None:
    visit = build_bay(Simulation("bay", WHOLE, bay="bay-9"), lambda: 1000.0)
    assert isinstance(visit, Visit)
    pack = next(iter(visit.packs()))
    assert pack.records[0].name.startswith("bay-9/")
    assert 1000.0 <= pack.arrival_s < 1010.0


def test_recovering_from_an_empty_circuit_is_refused() -> None:
    empty = VisitScenario("empty", "", Circuit("R-134a", 0.5, 0.6, 2e-3), (), steps=(Recover(),))
    with pytest.raises(NothingToRecoverError, match="initial_kg"):
        list(Visit(empty, 1).packs())
