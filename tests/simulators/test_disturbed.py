"""Random disturbed charges, and the technician without a scale: what they promise in their tables."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from fillmark_sim import Bay
from fillmark_sim.disturbance import Disturbances
from fillmark_sim.disturbed import CLASSES, UnknownClassError, sample_class
from fillmark_sim.scale import ScaleModel
from fillmark_sim.scenario import Event, PolicyName, Scale, Scenario, Stage


def run(scenario: Scenario, policy: PolicyName) -> Bay:
    bay = Bay(replace(scenario, technician=replace(scenario.technician, policy=policy)), 0)
    for _ in bay.packs():
        pass
    return bay


@pytest.mark.parametrize("name", CLASSES)
def test_a_seed_is_one_charge_that_can_reach_its_aim(name: str) -> None:
    first, second = sample_class(3, name, 0.005), sample_class(3, name, 0.005)
    assert first == second
    assert first.scale.resolution_kg == 0.005
    assert first != sample_class(4, name, 0.005)
    bay = run(first, "by_hand")
    assert bay.truth.charged_kg == pytest.approx(first.target_kg, abs=0.006)
    out = bay.truth.charged_kg + bay.truth.hose_kg + bay.truth.lost_kg + bay.truth.purged_kg
    assert bay.truth.dispensed_kg == pytest.approx(out, abs=1e-6)


def test_only_a_swap_has_more_than_one_can() -> None:
    for seed in range(8):
        assert len(sample_class(seed, "can swap").containers) > 1
        assert all(len(sample_class(seed, name).containers) == 1 for name in CLASSES if name != "can swap")


def test_an_unknown_class_is_refused() -> None:
    with pytest.raises(UnknownClassError, match="clean"):
        sample_class(1, "earthquake")


def test_an_event_can_wait_for_the_charge_and_grow() -> None:
    moved = Disturbances((Event("tug", 0.0, 10.0, 0.040, at_kg=0.2, ramp_s=4.0),))
    moved.begin(0.0)
    moved.charged(0.199, 50.0)
    assert moved.load_kg(50.0) == 0.0
    moved.charged(0.2, 60.0)
    moved.charged(0.3, 61.0)
    assert [moved.load_kg(60.0 + s) for s in (0.0, 1.0, 4.0, 9.9, 10.1)] == pytest.approx([0.0, 0.01, 0.04, 0.04, 0.0])


def test_the_error_of_linearity_is_what_is_declared() -> None:
    quiet = Scale(resolution_kg=1e-6, noise_kg=0.0, drift_kg_per_h=0.0, settling_s=0.01, capacity_kg=16.0)
    for load_kg, error_kg in ((2.0, 0.001 + 0.0004), (4.0, 0.0008), (6.0, -0.001 + 0.0012)):
        # By hand: a sine of 1 g over 8 kg stands at +1 g, 0 and -1 g; the gain adds 0.02 % of the load.
        scale = ScaleModel(replace(quiet, gain_error=2e-4, bow_kg=0.001), random.Random(1))
        for _ in range(40):
            scale.load(0.1, load_kg)
        assert scale.read(4.0)[0] - load_kg == pytest.approx(error_kg, abs=2e-6)


def test_who_counts_cans_takes_an_emptied_can_for_its_label() -> None:
    bay = run(sample_class(1, "can swap"), "counts_cans")
    swaps = [one for one in bay.truth.containers if one.drawn_kg > 0.0]
    assert len(swaps) >= 2
    net_kg = bay.scenario.containers[0].net_kg
    # What stays in a can is vapour: nobody empties it to its label.
    assert all(0.0 < net_kg - one.drawn_kg < 0.06 for one in swaps[:-1])
    assert bay.truth.charged_kg < bay.truth.dispensed_kg


def test_who_has_no_scale_is_worse_than_who_closes_by_the_truth() -> None:
    def far(policy: PolicyName) -> list[float]:
        bays = [run(sample_class(seed, "can swap"), policy) for seed in range(6)]
        return sorted(abs(bay.truth.charged_kg - bay.truth.aim_kg) for bay in bays)

    assert far("counts_cans")[3] > 2.0 * far("by_hand")[3]


def test_liquid_goes_through_the_high_side_with_the_engine_off() -> None:
    scenario = sample_class(2, "liquid")
    assert scenario.stages == (Stage("liquid", "high"),)
    assert scenario.containers[0].temperature_c > scenario.ambient_c + 5.0
    assert not run(scenario, "by_hand").circuit.running
