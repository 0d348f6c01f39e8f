"""Bad habits of a scale, each by hand or against a published table."""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest

from fillmark_sim.habits import HabitsModel
from fillmark_sim.scale import ScaleModel
from fillmark_sim.scenario import Flag, Habits, Scale

QUIET = Scale(resolution_kg=1e-6, noise_kg=0.0, drift_kg_per_h=0.0, settling_s=0.05)


def with_habits(habits: Habits) -> ScaleModel:
    return ScaleModel(replace(QUIET, habits=habits), random.Random(1))


def test_a_vibration_read_at_a_lower_rate_is_a_slow_wave() -> None:
    """Sampling theorem, by hand: 25.1 Hz read 5 times a second cannot be told from 0.1 Hz."""
    shaken = HabitsModel(Habits(shake_kg=0.003, shake_hz=25.1, shake_width_hz=0.0), random.Random(1))
    seen = [shaken.seen_kg(0.2 * number, 1.0) - 1.0 for number in range(100)]
    assert max(seen) == pytest.approx(0.003, rel=0.01)
    assert seen[50:] == pytest.approx(seen[:50], abs=1e-6)
    assert seen[25:75] == pytest.approx([-one for one in seen[:50]], abs=1e-6)


def test_heavy_tails_are_those_of_students_t() -> None:
    """95 % within 4.303 and 50 % within 0.816 for two degrees of freedom (any table of Student's t, from memory)."""
    noisy = HabitsModel(Habits(tail_kg=1.0), random.Random(1))
    drawn = [abs(noisy.seen_kg(float(number), 0.0)) for number in range(20_000)]
    for bound, inside in ((0.816, 0.5), (4.303, 0.95)):
        share = sum(one <= bound for one in drawn) / len(drawn)
        assert share == pytest.approx(inside, abs=4.0 * math.sqrt(inside * (1.0 - inside) / len(drawn)))


def test_a_held_indication_stands_until_enough_has_changed() -> None:
    held = HabitsModel(Habits(holds_kg=0.004), random.Random(1))
    assert [held.seen_kg(0.0, kg) for kg in (1.0, 0.998, 0.9961, 0.996, 0.993)] == [1.0, 1.0, 1.0, 0.996, 0.996]


@pytest.mark.parametrize(("flow_kg_s", "shown"), [(0.0002, 0.0), (0.002, 1.0)])
def test_zero_tracking_swallows_what_is_slow_and_nothing_else(flow_kg_s: float, shown: float) -> None:
    scale = with_habits(Habits(tracks_kg_s=0.0005))
    for number in range(1000):
        scale.load(0.1, max(0.0, 0.5 - flow_kg_s * max(0.0, 0.1 * number - 10.0)))
        if number == 100:
            start_kg = scale.read(10.0)[0]
    assert start_kg - scale.read(100.0)[0] == pytest.approx(shown * flow_kg_s * 90.0, abs=0.0005)


def test_a_flag_can_lie_both_ways() -> None:
    kinds: tuple[Flag, ...] = ("honest", "always", "never")
    scales = [with_habits(Habits(flag=kind)) for kind in kinds]
    for number in range(40):
        for scale in scales:
            scale.load(0.1, 1.0)
        honest, always, never = (scale.read(0.1 * number)[1] for scale in scales)
        assert (always, never) == (True, False)
        assert honest or number < 20
        assert not honest or number > 6
