"""Random holds: their distribution, their truth, and that they are the same each time."""

from __future__ import annotations

from collections import Counter

import pytest

from fillmark_sim.vacuum import HoldCase, sample_hold
from fillmark_sim.vacuum.water import saturation_pa


@pytest.fixture(scope="module")
def cases() -> list[HoldCase]:
    return [sample_hold(seed) for seed in range(120)]


def test_holds_stay_inside_their_declared_distribution(cases: list[HoldCase]) -> None:
    assert set(Counter(case.truth for case in cases)) == {"tight", "leaking", "wet", "both"}
    assert {round(case.gauge_resolution_pa) for case in cases} == {1, 10, 100, 3386}
    for case in cases:
        seconds = case.samples[-1][0]
        assert 290.0 < seconds <= 3610.0
        assert 1.5e-3 <= case.true_volume_m3 <= 9.0e-3
        assert case.leak_q_pa_m3_s == 0.0 or 1e-7 <= case.leak_q_pa_m3_s <= 1e-2
        assert (case.leak_q_pa_m3_s > 0.0) == (case.truth in {"leaking", "both"})
        assert 0.1 <= (len(case.samples) - 1) / seconds <= 2.01


def test_the_true_rise_is_the_sum_of_its_causes(cases: list[HoldCase]) -> None:
    for case in cases:
        first, last = case.true_pa
        # By hand: Q t / V for a leak into a vacuum, with the gas warmer or colder by 3 K at most.
        if case.truth == "leaking" and last < 5000.0:
            expected = case.leak_q_pa_m3_s * case.samples[-1][0] / case.true_volume_m3
            assert case.leak_rise_pa == pytest.approx(expected, rel=0.03)
        if case.truth == "tight":
            assert abs(last - first) < 1.0 + 0.011 * first
        if case.truth == "wet" and case.outgas_kg == 0.0:
            assert last < 1.02 * saturation_pa(case.true_coldest_k + 3.0) + first


def test_the_gauge_shows_the_truth_within_its_step_and_noise(cases: list[HoldCase]) -> None:
    for case in cases:
        slack = 1.7 * case.gauge_resolution_pa + 6.0 * case.gauge_noise_pa
        assert abs(case.samples[0][1] - case.true_pa[0]) < slack
        assert abs(case.samples[-1][1] - case.true_pa[1]) < slack + 0.02 * case.true_pa[1]


def test_the_declared_volume_is_as_good_as_it_says(cases: list[HoldCase]) -> None:
    inside = sum(abs(case.volume_m3 - case.true_volume_m3) <= 2.0 * case.volume_u_m3 for case in cases)
    assert 0.9 < inside / len(cases) < 1.0


def test_the_same_seed_gives_the_same_hold_and_a_wish_is_granted() -> None:
    assert sample_hold(5) == sample_hold(5)
    assert sample_hold(5).samples != sample_hold(6).samples
    wished = sample_hold(5, truth="leaking", leak_q_pa_m3_s=3e-5, gauge_resolution_pa=10.0, lasts_s=1800.0)
    assert (wished.truth, wished.leak_q_pa_m3_s, wished.gauge_resolution_pa) == ("leaking", 3e-5, 10.0)
    assert wished.samples[-1][0] == pytest.approx(1800.0, abs=20.0)


def test_another_noise_or_rate_shows_the_same_hold() -> None:
    once, again, twice = (
        sample_hold(3, rate_hz=0.5),
        sample_hold(3, rate_hz=0.5, noise_seed=1),
        sample_hold(3, rate_hz=1.0),
    )
    assert once.true_pa == again.true_pa == twice.true_pa
    assert once.volume_m3 == again.volume_m3
    assert [one[0] for one in once.samples] == [one[0] for one in again.samples]
    assert once.samples != again.samples
    assert len(twice.samples) == pytest.approx(2 * len(once.samples), abs=1)
