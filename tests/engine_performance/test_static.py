"""Static pressure against saturation tables, and Dalton's law for the air in it."""

from __future__ import annotations

import pytest

from fillmark.engine.performance.static import Fit, static_check
from fillmark.engine.performance.values import Probes
from fillmark.engine.quantity import Quantity
from fillmark.refrigerants import facade

R134A = facade.get("R-134a")


def known(value: Quantity | None) -> Quantity:
    assert value is not None
    return value


def test_saturated_r134a_fits_its_table() -> None:
    # Tillner-Roth and Baehr (1994), table 8: 300 K, 0.70282 MPa.
    found = static_check(R134A, 0.70282e6, 300.0, Probes())
    assert found.fit is Fit.SATURATED
    assert known(found.excess_pa).value == pytest.approx(0.0, abs=100.0)
    assert found.air_pa is None
    assert found.finding.does_not_prove


def test_the_excess_is_the_airs_partial_pressure() -> None:
    # Dalton: 0.70282 MPa of R-134a and 0.1 MPa of air at 300 K.
    found = static_check(R134A, 0.80282e6, 300.0, Probes())
    assert found.fit is Fit.ABOVE
    assert known(found.air_pa).value == pytest.approx(0.1e6, abs=200.0)
    assert found.finding.next[0].startswith("Let it stand")


def test_a_small_amount_of_air_does_not_show_and_the_limit_is_said() -> None:
    found = static_check(R134A, 0.70282e6 + 20e3, 300.0, Probes())
    assert found.fit is Fit.SATURATED
    limit = found.least_visible_air_pa
    assert limit is not None
    assert 20e3 < limit < 80e3
    assert f"{limit / 1e3:.0f} kPa" in " ".join(found.finding.does_not_prove)
    assert static_check(R134A, 0.70282e6 + 1.05 * limit, 300.0, Probes()).fit is Fit.ABOVE


def test_too_little_pressure_means_no_liquid() -> None:
    found = static_check(R134A, 0.4e6, 300.0, Probes())
    assert found.fit is Fit.BELOW
    assert "leak" in found.finding.next[0]


def test_pressure_alone_cannot_tell_r134a_from_r1234yf() -> None:
    # At 25 °C the two lie 3 % apart: 665.4 kPa (ASHRAE Fundamentals, from memory) and 682.7 kPa (Lemmon and Akasaka).
    others = [facade.get(name) for name in ("R-1234yf", "R-290", "R-134a", "R-744")]
    found = static_check(R134A, 0.6654e6, 298.15, Probes(), others)
    assert found.others == ("R-1234yf",)
    assert "R-1234yf" in " ".join(found.finding.does_not_prove)


@pytest.mark.parametrize(
    ("pressure", "ambient"), [(None, 300.0), (7e5, None), (None, None), (7e5, 500.0), (-1.0, 300.0)]
)
def test_what_is_not_known_is_not_judged(pressure: float | None, ambient: float | None) -> None:
    found = static_check(R134A, pressure, ambient, Probes())
    assert found.fit is Fit.UNKNOWN
    assert found.excess_pa is None
    assert found.finding.proves == ()
    assert found.finding.next
