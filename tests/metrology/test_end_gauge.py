"""The law of propagation and the effective degrees of freedom against the end gauge of JCGM 100:2008 (GUM), H.1.

Numbers of tables H.1 and H.1.6; the unit is the nanometre, which the arithmetic does not know.
"""

from __future__ import annotations

import math

import pytest

from fillmark.engine.budget import JUDGED_DOF, Term, combined_u_kg, effective_dof

STANDARD_NM = 50_000_623.0
ALPHA_PER_K = 11.5e-6
GAUGE = (
    Term("calibration of the standard", 25.0, "H.1.3.1", dof=18),
    Term("repeated observations", 5.8, "H.1.3.2", dof=24),
    Term("random effects of the comparator", 3.9, "H.1.3.2", dof=5),
    Term("systematic effects of the comparator", 6.7, "H.1.3.2", dof=8),
    Term("difference of expansion", STANDARD_NM * 0.1 * 1e-6 / math.sqrt(3.0), "H.1.3.4", dof=50),
    Term("difference of temperature", STANDARD_NM * ALPHA_PER_K * 0.05 / math.sqrt(3.0), "H.1.3.6", dof=2),
)
"""The expansion of the standard and the bench's temperature have sensitivity nil at first order (H.1.3.3, H.1.3.5)."""


def test_the_combined_uncertainty() -> None:
    assert combined_u_kg(GAUGE) == pytest.approx(31.66, abs=0.01)
    assert round(combined_u_kg(GAUGE)) == 32


def test_the_effective_degrees_of_freedom() -> None:
    assert effective_dof(GAUGE) == pytest.approx(16.75, abs=0.01)
    assert math.floor(effective_dof(GAUGE)) == 16


def test_the_expanded_uncertainty_at_99_percent() -> None:
    """t of 16 degrees of freedom is 2.92 (table G.2); the example prints 93 nm."""
    assert round(2.92 * round(combined_u_kg(GAUGE))) == 93


def test_limits_that_are_known_have_no_end_of_freedom() -> None:
    assert effective_dof((Term("limit", 1.0, ""),)) == math.inf
    assert effective_dof(()) == math.inf


def test_one_term_keeps_its_own() -> None:
    assert effective_dof((Term("one", 3e-4, "", dof=5.0),)) == pytest.approx(5.0)
    assert effective_dof((Term("one", 1.0, "", dof=5.0), Term("sure", 1.0, ""))) == pytest.approx(20.0)


def test_a_judged_term_is_right_to_a_quarter() -> None:
    """JCGM 100 G.4.2, example: a relative uncertainty of 25 % gives 8."""
    assert pytest.approx(0.5 * 0.25**-2) == JUDGED_DOF
