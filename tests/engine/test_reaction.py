"""The reaction time: against direct integration of the model, published spreads, and simulated people."""

from __future__ import annotations

import math
import random
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.engine.reaction import (
    LEAST_S,
    MOST_CLOSINGS,
    MOST_S,
    PRIOR_DOF,
    PRIOR_WEIGHT,
    SCATTER,
    UNKNOWN,
    USUAL_S,
    Reaction,
    learnt,
)

HUMAN = st.floats(0.8, 1.6)
"""Times of one person that lie too near to each other for any of them to be a stray."""


def _log_moments(reaction: Reaction) -> tuple[float, float]:
    """Mean and variance of the logarithm of a log-normal with the reaction's mean and standard deviation."""
    var = math.log1p((reaction.u_s / reaction.time_s) ** 2)
    return math.log(reaction.time_s) - var / 2.0, var


def test_of_somebody_unknown_the_usual_time_is_assumed_with_the_spread_of_all_people() -> None:
    """Unalerted drivers who brake, 1.31 s ± 0.61 s: Taoka 1989, ITE Journal 59(3), from memory. By its logarithm."""
    assert learnt(()) == UNKNOWN
    assert (UNKNOWN.source, UNKNOWN.closings) == ("assumed", 0)
    assert UNKNOWN.time_s == pytest.approx(USUAL_S)
    published = math.sqrt(math.log1p((0.61 / 1.31) ** 2))
    assert math.sqrt(_log_moments(UNKNOWN)[1]) == pytest.approx(published, rel=0.05)


@pytest.mark.parametrize("times", [(0.9,), (1.1, 1.4), (0.7, 0.8, 0.75, 0.9, 0.72)])
def test_the_prediction_is_that_of_the_model_integrated_directly(times: tuple[float, ...]) -> None:
    """Gelman et al., Bayesian Data Analysis, section 3.3: prior times likelihood, summed over a grid of μ and σ.

    The density of the next time must be Student's t with the centre, the scale and the degrees of freedom shown.
    """
    reaction = learnt(times)
    centre, var = _log_moments(reaction)
    prior_mean, _ = _log_moments(UNKNOWN)
    logs = [math.log(time_s) for time_s in times]

    def normal(x: float, mean: float, sigma: float) -> float:
        return statistics.NormalDist(mean, sigma).pdf(x)

    def scaled_inverse_chi2(square: float) -> float:
        half = PRIOR_DOF / 2.0
        return math.exp(-(half + 1.0) * math.log(square) - half * SCATTER**2 / square)

    total, at = 0.0, dict.fromkeys((centre, centre + 0.3, centre - 0.5), 0.0)
    for row in range(160):
        sigma = math.exp(math.log(0.04) + (row + 0.5) / 160 * math.log(2.5 / 0.04))
        weight_sigma = scaled_inverse_chi2(sigma**2) * 2.0 * sigma * sigma  # d(σ²) = 2 σ² d(ln σ)
        for column in range(160):
            mean = centre + (column - 79.5) / 160 * 5.0
            weight = weight_sigma * normal(mean, prior_mean, sigma / math.sqrt(PRIOR_WEIGHT))
            weight *= math.prod(normal(one, mean, sigma) for one in logs)
            total += weight
            for x in at:
                at[x] += weight * normal(x, mean, sigma)

    def student(x: float) -> float:
        dof = reaction.dof
        norm = math.gamma((dof + 1.0) / 2.0) / math.gamma(dof / 2.0) / math.sqrt(dof * math.pi * var)
        return norm * math.exp(-(dof + 1.0) / 2.0 * math.log1p((x - centre) ** 2 / (dof * var)))

    for x, density in at.items():
        assert density / total == pytest.approx(student(x), rel=5e-3)


@given(times=st.lists(HUMAN, max_size=MOST_CLOSINGS), order=st.randoms(use_true_random=False))
def test_the_order_of_the_closings_does_not_matter(times: list[float], order: random.Random) -> None:
    mixed = times.copy()
    order.shuffle(mixed)
    assert learnt(mixed).time_s == pytest.approx(learnt(times).time_s)
    assert learnt(mixed).u_s == pytest.approx(learnt(times).u_s)


@given(time_s=st.floats(0.3, 5.0), count=st.integers(1, MOST_CLOSINGS - 1))
def test_every_closing_draws_the_expectation_to_the_person_and_makes_it_surer(time_s: float, count: int) -> None:
    fewer, more = learnt([time_s] * count), learnt([time_s] * (count + 1))
    assert more.closings == count + 1
    assert more.u_s / more.time_s < fewer.u_s / fewer.time_s
    far = [abs(_log_moments(one)[0] - math.log(time_s)) for one in (UNKNOWN, fewer, more)]
    assert far[2] <= far[1] + 1e-12
    assert far[1] <= far[0] + 1e-12


@given(
    times=st.lists(HUMAN, max_size=10),
    absurd=st.lists(
        st.one_of(st.floats(-600.0, LEAST_S, exclude_max=True), st.floats(MOST_S, 7200.0, exclude_min=True)),
        max_size=10,
    ),
)
def test_who_was_away_or_ahead_of_the_call_is_not_counted(times: list[float], absurd: list[float]) -> None:
    """A start before 0.1 s is a false one: World Athletics, Technical Rules, rule 16.6, from memory."""
    assert learnt([*absurd, *times]) == learnt(times)


def test_a_stray_among_many_is_left_out_and_between_two_none_is() -> None:
    """Hampel's identifier (Davies and Gather 1993, from memory) needs a majority to say who strays."""
    many = [1.3, 1.4, 1.2, 1.5, 1.35, 1.45, 1.25]
    assert learnt([*many, 12.0]) == learnt(many)
    assert learnt([1.0, 3.0]).closings == 2


def test_only_the_latest_count() -> None:
    assert learnt([3.0] * 50 + [0.9] * MOST_CLOSINGS) == learnt([0.9] * MOST_CLOSINGS)


@pytest.mark.parametrize("closings", [0, 1, 3, 10])
def test_the_next_time_of_simulated_people_lies_within_two_standard_uncertainties(closings: int) -> None:
    """People as unlike as the model says; 95 % of a normal distribution, JCGM 100 G.1.3, and less for a skewed one."""
    rng, inside, people = random.Random(closings), 0, 3000
    prior_mean, _ = _log_moments(UNKNOWN)
    for _ in range(people):
        mean = rng.gauss(prior_mean, SCATTER / math.sqrt(PRIOR_WEIGHT))
        times = [math.exp(rng.gauss(mean, SCATTER)) for _ in range(closings + 1)]
        reaction = learnt(times[:-1])
        inside += abs(times[-1] - reaction.time_s) <= 2.0 * reaction.u_s
    assert 0.92 <= inside / people <= 0.99


def test_it_says_in_one_line_where_it_comes_from() -> None:
    assert UNKNOWN.sentence() == "Reaction 1.5 s, assumed: no closing of this technician is known."
    assert Reaction.declared(2.0).sentence() == "Reaction 2.0 s, as declared."
    assert Reaction.known(1.42, 0.3, 7).sentence() == "Reaction 1.4 s, from 7 closings."
    assert Reaction.known(1.42, 0.5, 1).sentence() == "Reaction 1.4 s, from 1 closing."


def test_a_declared_time_scatters_as_a_persons_times_do() -> None:
    assert Reaction.declared(2.0).u_s == pytest.approx(2.0 * SCATTER)
    assert Reaction.declared(0.0).u_s == 0.0
