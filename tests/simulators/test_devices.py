"""Scale, probes and radio: what is shown of what is true, and when it arrives."""

from __future__ import annotations

import math
import random
from collections.abc import Callable
from itertools import pairwise

import pytest

from fillmark.wire.senml import Record
from fillmark_sim import Bay, Pack
from fillmark_sim.radio import RadioModel
from fillmark_sim.scale import Probe, ScaleModel
from fillmark_sim.scenario import Radio, Scale

Charge = tuple[Bay, tuple[Pack, ...]]
QUIET = Scale(noise_kg=0.0, drift_kg_per_h=0.0, settling_s=0.5)


def test_the_scale_settles_as_a_first_order_lag() -> None:
    scale = ScaleModel(QUIET, random.Random(1))
    for _ in range(4):
        scale.load(0.125, 1.0)
    # By hand: after one time constant 1 - 1/e of the step, to the nearest gram.
    assert scale.read(0.5)[0] == pytest.approx(1.0 - math.exp(-1.0), abs=0.0006)


def test_the_scale_shows_whole_divisions() -> None:
    scale = ScaleModel(Scale(resolution_kg=0.005), random.Random(1))
    for step in range(400):
        scale.load(0.5, 0.0123 * step)
        shown = scale.read(0.5 * step)[0]
        assert shown / 0.005 == pytest.approx(round(shown / 0.005), abs=1e-6)


def test_an_overloaded_scale_pins_nine_divisions_above_its_capacity_and_is_never_stable() -> None:
    # OIML R 76-1: no indication beyond Max + 9 e.
    scale = ScaleModel(Scale(capacity_kg=5.0), random.Random(1))
    for step in range(40):
        scale.load(0.5, 7.0)
        shown, stable = scale.read(0.5 * step)
        assert not (stable and step > 10)
    assert shown == pytest.approx(5.009)


def test_the_stable_flag_comes_with_rest_and_goes_with_flow() -> None:
    scale = ScaleModel(QUIET, random.Random(1))
    flags = []
    for step in range(80):
        scale.load(0.25, 1.0 if step < 40 else 1.0 - 0.003 * (step - 40))
        flags.append(scale.read(0.25 * step)[1])
    assert flags[39]
    assert not any(flags[50:])


def test_a_clamp_follows_slowly() -> None:
    probe = Probe(random.Random(1), lag_s=8.0, noise=0.0, step=0.1)
    probe.read(0.0, 20.0)
    assert probe.read(8.0, 30.0) == pytest.approx(30.0 - 10.0 / math.e, abs=0.06)


def test_backlog_arrives_in_a_few_packs_oldest_first_after_the_outage() -> None:
    radio = RadioModel(Radio(backlog_records=4), random.Random(1))
    for second in range(10):
        radio.hold((Record("bay-1/scale/mass", 100.0 + second, unit="kg", value=1.0),))
    assert list(radio.arrived(200.0)) == []
    radio.release(110.0)
    packs = list(radio.arrived(200.0))
    assert [len(pack.records) for pack in packs] == [4, 4, 2]
    assert [record.time_s for pack in packs for record in pack.records] == [100.0 + second for second in range(10)]
    assert packs[0].arrival_s > 110.0


def _times(packs: tuple[Pack, ...], channel: str) -> list[float]:
    return [record.time_s for pack in packs for record in pack.records if record.name == channel]


def test_an_outage_of_the_radio_loses_no_weight(charge: Callable[[str], Charge]) -> None:
    bay, packs = charge("electric-car-backlog")
    times = sorted(_times(packs, "bay-1/scale/mass"))
    assert max(later - earlier for earlier, later in pairwise(times)) == pytest.approx(0.5)
    late = [pack for pack in packs if pack.arrival_s - min(record.time_s for record in pack.records) > 30.0]
    assert late
    begun_s = bay.truth.at["first-flow"]
    seen = [pack for pack in packs if begun_s + 125.0 < pack.arrival_s < begun_s + 160.0]
    assert seen
    assert all("scale" not in record.name for pack in seen for record in pack.records)


def test_lost_probes_leave_a_gap_and_the_scale_goes_on(charge: Callable[[str], Charge]) -> None:
    _, packs = charge("excavator-probe-dropout")
    times = _times(packs, "bay-1/low/pressure")
    assert max(later - earlier for earlier, later in pairwise(times)) >= 70.0
    weights = _times(packs, "bay-1/scale/mass")
    assert max(later - earlier for earlier, later in pairwise(weights)) == pytest.approx(0.5)


def test_a_tug_shows_on_the_scale_and_not_in_the_truth(charge: Callable[[str], Charge]) -> None:
    bay, packs = charge("tractor-tug-bump")
    begun_s = bay.truth.at["first-flow"]
    shown = {
        record.time_s: record.value
        for pack in packs
        for record in pack.records
        if record.name == "bay-1/scale/mass" and record.value is not None
    }
    before = next(value for time_s, value in shown.items() if time_s >= begun_s + 109.0)
    during = next(value for time_s, value in shown.items() if time_s >= begun_s + 113.0)
    assert before - during == pytest.approx(0.028 + 4.0 * 0.0021, abs=0.004)
