"""The uncertainty budget against OIML R 76-1, the GUM and Python's own statistics."""

from __future__ import annotations

import math
from dataclasses import replace
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.engine.budget import (
    BETTER,
    MPE_STEPS,
    Term,
    combined_u_kg,
    linearity_u_kg,
    permissible_error_kg,
    probability_between,
)
from fillmark.engine.landing_doubt import landing_doubt
from fillmark.engine.setup import Scale

if TYPE_CHECKING:
    from tests.engine.conftest import MakeBench

# OIML R 76-1:2006 table 6: load in verification intervals, maximum permissible error in intervals.
TABLE_6 = [
    ("I", 0, 0.5), ("I", 50_000, 0.5), ("I", 50_001, 1.0), ("I", 200_000, 1.0), ("I", 200_001, 1.5),
    ("II", 5_000, 0.5), ("II", 5_001, 1.0), ("II", 20_000, 1.0), ("II", 20_001, 1.5),
    ("III", 500, 0.5), ("III", 501, 1.0), ("III", 2_000, 1.0), ("III", 2_001, 1.5), ("III", 10_000, 1.5),
    ("IIII", 50, 0.5), ("IIII", 51, 1.0), ("IIII", 200, 1.0), ("IIII", 201, 1.5),
]  # fmt: skip


@pytest.mark.parametrize(("accuracy_class", "intervals", "error"), TABLE_6)
def test_permissible_error_of_oiml_r_76(accuracy_class: str, intervals: int, error: float) -> None:
    assert permissible_error_kg(accuracy_class, 1.0, float(intervals)) == error


@pytest.mark.parametrize(
    ("load_kg", "error_kg"), [(2.5, 2.5e-3), (2.6, 5e-3), (10.0, 5e-3), (10.1, 7.5e-3), (50.0, 7.5e-3)]
)
def test_a_class_iii_scale_of_50_kg_in_steps_of_5_g(load_kg: float, error_kg: float) -> None:
    """The consequence of table 6 for e = 5 g: ±2.5 g to 2.5 kg, ±5 g to 10 kg, ±7.5 g above."""
    assert permissible_error_kg("III", 5e-3, load_kg) == pytest.approx(error_kg)


def test_a_loss_counts_as_a_load() -> None:
    assert permissible_error_kg("III", 5e-3, -2.6) == permissible_error_kg("III", 5e-3, 2.6)


def test_every_class_covers_every_load() -> None:
    assert set(MPE_STEPS) == {"I", "II", "III", "IIII"}
    assert all(permissible_error_kg(name, 1e-3, 1e6) == pytest.approx(1.5e-3) for name in MPE_STEPS)


@given(
    low=st.floats(0.0, 5.0),
    width=st.floats(0.0, 1.0),
    value=st.floats(-1.0, 6.0),
    u=st.floats(1e-5, 0.5),
)
def test_probability_is_that_of_the_normal_distribution(low: float, width: float, value: float, u: float) -> None:
    normal = NormalDist(value, u)
    expected = normal.cdf(low + width) - normal.cdf(low)
    assert probability_between(low, low + width, value, u) == pytest.approx(expected, abs=1e-9)


def test_one_two_and_three_standard_uncertainties() -> None:
    """68.27, 95.45 and 99.73 %: JCGM 100:2008, table G.1 rounded, and every table of the normal distribution."""
    for k, share in ((1.0, 0.6827), (2.0, 0.9545), (3.0, 0.9973)):
        assert probability_between(0.5 - k * 0.01, 0.5 + k * 0.01, 0.5, 0.01) == pytest.approx(share, abs=5e-5)
        assert probability_between(0.5 - k * 0.01, 0.5 + k * 0.01, 0.5, 0.01) == pytest.approx(
            math.erf(k / math.sqrt(2.0)), abs=1e-12
        )


def test_without_doubt_it_is_in_or_out() -> None:
    assert probability_between(0.48, 0.52, 0.48, 0.0) == 1.0
    assert probability_between(0.48, 0.52, 0.479, 0.0) == 0.0


def test_uncorrelated_terms_add_as_squares() -> None:
    """GUM 5.1.2, a 3-4-5 triangle by hand."""
    assert combined_u_kg((Term("a", 3e-3, ""), Term("b", 4e-3, ""))) == pytest.approx(5e-3)
    assert combined_u_kg(()) == 0.0


def test_every_term_says_what_would_make_it_smaller(make_bench: MakeBench) -> None:
    bench = make_bench().ready()
    charged, lands = bench.job.picture.budget, landing_doubt(bench.job)
    assert lands is not None
    assert {term.name for term in (*charged, *lands.terms)} == set(BETTER)
    for name, terms in (("budget", charged), ("landing_budget", lands.terms)):
        assert [row["better"] for row in bench.view[name]] == [term.better for term in terms]  # type: ignore[attr-defined]  # the view is plain JSON


def test_the_budget_of_a_charge_by_hand(make_bench: MakeBench) -> None:
    bench = make_bench(hz=1.0, delay=0.6).ready(gross=1.0)
    bench.valve("low", is_open=True)
    bench.run(200.0, flow=2e-3)
    terms = {term.name: term for term in bench.job.picture.budget}
    # Class III, e = 1 g, 5 kg for want of a plate: 1.5 g, three standard deviations, over 400 g of a length of 714 g:
    # 0.5 g * sqrt(2 (1 - exp(-0.56² / 2))) = 0.270 g, and 400 g * 3e-4 = 0.12 g.
    assert terms["scale class"].u_kg == pytest.approx(0.295e-3, rel=0.01)
    assert terms["scale class"].assumed
    # In the open 8 steps an hour, rectangular half-width, over 204 s.
    assert terms["drift"].u_kg == pytest.approx(8e-3 * 204.0 / 3600.0 / math.sqrt(3.0), rel=1e-3)
    assert terms["drift"].assumed
    # 2 g/s times 0.6 s, known to a third.
    assert terms["lag"].u_kg == pytest.approx(2e-3 * 0.6 / 3.0, rel=0.02)
    # At least the step twice, once at the start and once now: 1 g/sqrt(12) each.
    assert terms["indication"].u_kg > 1e-3 * math.sqrt(2.0 / 12.0)
    u = math.sqrt(sum(term.u_kg**2 for term in terms.values()))
    assert bench.job.picture.charged.u_kg == pytest.approx(u)


def test_a_scale_that_is_sheltered_drifts_a_quarter_as_much(make_bench: MakeBench) -> None:
    """10 K in an hour instead of 20 K in half of one."""
    drift = []
    for sheltered in (False, True):
        bench = make_bench()
        bench.setup = replace(bench.setup, scale=replace(bench.setup.scale, sheltered=sheltered))
        bench.ready().run(60.0)
        drift.append(next(term for term in bench.job.picture.budget if term.name == "drift"))
    assert drift[1].u_kg == pytest.approx(drift[0].u_kg / 4.0)
    assert [term.assumed for term in drift] == [True, False]


def test_what_the_plate_does_not_say_is_marked_as_assumed(make_bench: MakeBench) -> None:
    bench = make_bench()
    bench.setup = replace(bench.setup, scale=replace(bench.setup.scale, accuracy_class=None, delay_s=None))
    bench.ready()
    assert {term.name for term in bench.job.picture.budget if term.assumed} == {"scale class", "drift", "lag"}


def test_the_plate_says_how_far_two_indications_of_a_scale_may_differ() -> None:
    """By hand, 0.5 kg drawn on a scale of 15 kg by 1 g, class III: s = 1.5 g / 3, L = 15 kg / 7, d / L = 0.233.

    0.5 g * sqrt(2 (1 - exp(-0.233² / 2))) = 0.116 g, and 0.15 g of the span: 0.190 g. An unknown class has
    s = 2 * 1.5 g / sqrt(3), an unknown capacity is taken to be 5 kg.
    """
    plate = Scale(1e-3, "III", 15.0)
    assert linearity_u_kg(plate, 0.5) == pytest.approx(0.190e-3, rel=0.005)
    assert linearity_u_kg(plate, -0.5) == linearity_u_kg(plate, 0.5)
    assert linearity_u_kg(plate, 0.0) == 0.0
    assert linearity_u_kg(replace(plate, accuracy_class=None), 0.5) == pytest.approx(0.429e-3, rel=0.005)
    assert linearity_u_kg(replace(plate, capacity_kg=None), 0.5) == linearity_u_kg(replace(plate, capacity_kg=5.0), 0.5)
    # Loads that lie far apart on a small scale have errors of their own: sqrt(2) s.
    assert linearity_u_kg(replace(plate, capacity_kg=1.0), 0.5) == pytest.approx(
        math.hypot(math.sqrt(2.0) * 1e-3 / 3.0, 0.15e-3), rel=0.005
    )


def test_error_curves_that_bend_so_often_differ_so_much() -> None:
    """4,000 curves drawn from a normal process with the squared exponential covariance (Rasmussen and Williams 2006,
    section 4.2, from memory), of 0.5 g and Max / 7, within ±1.5 g in 997 of 1,000 places.
    """
    rng = np.random.default_rng(14)
    loads_kg = np.linspace(0.0, 6.0, 25)
    apart = (loads_kg[:, None] - loads_kg[None, :]) / (6.0 / 7.0)
    curves = rng.multivariate_normal(np.zeros(25), 0.5e-3**2 * np.exp(-(apart**2) / 2.0), size=4000, method="eigh")
    assert float(np.mean(np.abs(curves) <= 1.5e-3)) == pytest.approx(0.9973, abs=0.001)
    for steps in (1, 2, 3, 8):
        differ = curves[:, steps:] - curves[:, :-steps]
        span_kg = 0.25 * steps
        said = math.sqrt(linearity_u_kg(Scale(1e-3, "III", 6.0), span_kg) ** 2 - (3e-4 * span_kg) ** 2)
        assert said == pytest.approx(float(np.sqrt(np.mean(differ**2))), rel=0.03)
