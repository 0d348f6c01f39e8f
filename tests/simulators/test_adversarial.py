"""Random charges in which something happens that nothing was made for: what their table promises."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import pairwise

import pytest

from fillmark.wire.senml import Record
from fillmark_sim import Bay, Pack, Scenario, adversarial, disturbed
from fillmark_sim.adversarial import CLASSES
from fillmark_sim.disturbance import Disturbances
from fillmark_sim.scenario import Event


def scenario_of(name: str, seed: int) -> Scenario:
    drawn = disturbed.sample_class(seed, name, 0.001, CLASSES)
    return replace(drawn, technician=replace(drawn.technician, policy="by_hand"))


def run(name: str, seed: int) -> tuple[Bay, list[Pack]]:
    bay = Bay(scenario_of(name, seed), seed)
    return bay, list(bay.packs())


def readings(packs: list[Pack]) -> list[Record]:
    return [record for pack in packs for record in pack.records if record.text is None]


def test_the_default_distribution_knows_none_of_them() -> None:
    assert not set(CLASSES) & set(disturbed.CLASSES)
    with pytest.raises(disturbed.UnknownClassError, match="clean"):
        disturbed.sample_class(1, "back-flow")
    with pytest.raises(disturbed.UnknownClassError, match="back-flow"):
        disturbed.sample_class(1, "clean", classes=CLASSES)


@pytest.mark.parametrize("name", CLASSES)
def test_its_line_stands_in_the_table_of_the_file(name: str) -> None:
    assert f"| {name} |" in str(adversarial.__doc__)


@pytest.mark.parametrize("name", CLASSES)
def test_a_seed_is_one_charge_that_conserves_mass_and_reaches_its_aim(name: str) -> None:
    assert scenario_of(name, 3) == scenario_of(name, 3) != scenario_of(name, 4)
    bay, _ = run(name, 3)
    truth = bay.truth
    assert truth.charged_kg == pytest.approx(truth.aim_kg, abs=0.006)
    out_kg = truth.charged_kg + truth.hose_kg + truth.lost_kg + truth.purged_kg
    assert truth.dispensed_kg == pytest.approx(out_kg, abs=1e-6)


@pytest.mark.parametrize("name", ["cracked valve", "pinched hose", "compressor stops", "back-flow"])
def test_what_hinders_the_flow_makes_the_charge_longer(name: str) -> None:
    scenario = scenario_of(name, 3)
    lasted = []
    for one in (scenario, replace(scenario, events=())):
        bay = Bay(one, 3)
        for _ in bay.packs():
            pass
        lasted.append(bay.truth.at["valve-closed"] - bay.truth.at["first-flow"])
    assert lasted[0] > lasted[1] + 3.0


def test_refrigerant_flows_back_into_a_cool_can() -> None:
    bay = Bay(scenario_of("back-flow", 3), 3)
    assert min(bay.inlet_kg_s for _ in bay.packs(0.25)) < -0.0005


def test_a_can_upside_down_gives_liquid() -> None:
    bay = Bay(scenario_of("can turned over", 3), 3)
    upright = Bay(replace(bay.scenario, events=()), 3)
    wettest, usual = (max(one.line.vessel.liquid_kg for _ in one.packs(0.25)) for one in (bay, upright))
    assert wettest > usual + 0.005


def test_packs_come_twice_and_late_but_actions_once_and_in_order() -> None:
    _, packs = run("disordered packs", 3)
    known = [(one.name, one.time_s) for one in readings(packs)]
    assert len(set(known)) < 0.9 * len(known)
    times = [one.time_s for one in readings(packs)]
    assert any(later < earlier - 1.0 for earlier, later in pairwise(times))
    told = [record for pack in packs for record in pack.records if record.text is not None]
    assert [one.time_s for one in told] == sorted(one.time_s for one in told)
    assert [json.loads(one.text or "")["type"] for one in told].count("container.mount") == 1


def test_a_clock_that_jumps_shifts_the_scales_stamps_alone() -> None:
    bay, packs = run("clock jump", 3)
    (event,) = bay.scenario.events
    ahead = {"scale": 0.0, "low": 0.0}
    for pack in packs:
        for record in pack.records:
            device = record.name.split("/")[1]
            if device in ahead:
                off_s = record.time_s - pack.arrival_s
                ahead[device] = max(ahead[device], off_s) if event.shift_s > 0.0 else min(ahead[device], off_s)
    assert abs(ahead["scale"] - event.shift_s) < 0.6
    assert abs(ahead["low"]) < 0.6


def test_two_valves_are_entered_at_once() -> None:
    _, packs = run("bump at the call", 3)
    shut = [record for pack in packs for record in pack.records if record.text and '"open":false' in record.text]
    assert len(shut) == 2
    assert shut[0].time_s == shut[1].time_s


def test_the_declared_hose_is_shorter_than_the_real_one() -> None:
    bay, packs = run("longer hose", 3)
    told = [json.loads(record.text) for pack in packs for record in pack.records if record.text is not None]
    (opened,) = [action for action in told if action["type"] == "job.open"]
    declared_m = float(opened["hose"]["length"].removesuffix(" m"))
    assert bay.scenario.hose.length_m == pytest.approx(1.3 * declared_m, abs=0.01)


def test_events_of_each_kind_begin_and_end() -> None:
    events = Disturbances(
        (
            Event("pinch", 0.0, 5.0, share=0.1, at_kg=0.1),
            Event("clock", 2.0, 5.0, shift_s=-2.0, at_kg=0.1),
            Event("tool", 1.0, 10.0, 0.3, at_swap=True),
            Event("hand", 0.0, 20.0, 0.1, at_kg=0.2),
        )
    )
    events.begin(0.0)
    events.charged(0.1, 10.0)
    assert [events.opening(s) for s in (9.9, 10.0, 14.9, 15.0)] == [1.0, 0.1, 0.1, 1.0]
    assert [events.shift_s(s) for s in (11.9, 12.0, 16.9, 17.0)] == [0.0, -2.0, -2.0, 0.0]
    assert events.load_kg(20.0) == 0.0
    events.lifted(30.0)
    events.lifted(35.0)
    assert [events.load_kg(s) for s in (30.9, 31.0, 40.9, 41.0)] == [0.0, 0.3, 0.3, 0.0]
    events.charged(0.2, 50.0)
    pressed = [events.load_kg(50.0 + 0.1 * tenth) for tenth in range(200)]
    assert all(0.05 < one < 0.15 for one in pressed)
    assert sum(pressed) / len(pressed) == pytest.approx(0.1, abs=0.01)
