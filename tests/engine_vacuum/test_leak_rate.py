"""Leak rates against the worked examples of a vacuum textbook."""

from __future__ import annotations

import pytest

from fillmark.engine.quantity import Quantity
from fillmark.engine.vacuum.leak_rate import (
    EQUIVALENT_CAUTION,
    YEAR_S,
    mass_flow_kg_s,
    molar_mass_kg_mol,
    pv_flow,
    pv_flow_of_mass,
    refrigerant_equivalent,
)
from fillmark.refrigerants import facade


def test_a_tyre_of_4_litres_that_loses_a_bar_in_30_days() -> None:
    # Pfeiffer Vacuum, Know-how book, section 7.1.2: 1.5e-4 Pa m³/s.
    q = pv_flow(Quantity(4e-3, 0.0), Quantity(1e5 / (30 * 86400.0), 0.0))
    assert q.value == pytest.approx(1.543e-4, rel=1e-3)


def test_ten_grams_of_r134a_in_ten_years() -> None:
    # The same: "about 224 Pa m³", 7.1e-7 Pa m³/s, which is at 0 °C.
    q = pv_flow_of_mass(10e-3 / (10 * YEAR_S), 0.102, 273.15)
    assert q == pytest.approx(7.1e-7, rel=0.01)


@pytest.mark.parametrize(
    ("molar_mass", "grams_a_year"),
    [(102.032e-3, 1.3201e6), (114.042e-3, 1.4755e6), (44.010e-3, 5.694e5), (66.051e-3, 8.546e5), (44.096e-3, 5.705e5)],
)
def test_mass_of_one_pascal_cubic_metre_a_second(molar_mass: float, grams_a_year: float) -> None:
    # M / (R T) at 20 °C and 365 days, worked out by hand for R-134a, R-1234yf, R-744, R-152a and R-290.
    assert mass_flow_kg_s(1.0, molar_mass) * 1e3 * YEAR_S == pytest.approx(grams_a_year, rel=2e-4)


@pytest.mark.parametrize(("name", "molar_mass"), [("R-134a", 102.032e-3), ("R-744", 44.010e-3), ("R-410A", 72.5854e-3)])
def test_molar_mass_of_a_thin_vapour(name: str, molar_mass: float) -> None:
    # From the formulas; the blend: Lemmon, Int. J. Thermophys. 24 (2003) 991, Table V.
    assert molar_mass_kg_mol(facade.get(name)) == pytest.approx(molar_mass, rel=2e-4)


def test_an_equivalent_never_comes_without_its_caution() -> None:
    made = refrigerant_equivalent(Quantity(1e-5, 1e-6), facade.get("R-134a"))
    assert made.caution == EQUIVALENT_CAUTION
    assert "Do not grade" in made.caution
    assert made.mass_flow_kg_s.u / made.mass_flow_kg_s.value == pytest.approx(0.1)
    # 1e-5 Pa m³/s are 1.3201e6 g/a times 1e-5, see above: 0.4186 µg/s, and 2u are a fifth of it.
    assert "0.419 ± 0.084 µg/s" in made.sentence
    assert made.sentence.endswith(EQUIVALENT_CAUTION)


def test_both_uncertainties_are_in_a_leak_rate() -> None:
    q = pv_flow(Quantity(4e-3, 4e-4), Quantity(0.1, 0.02))
    assert q.u / q.value == pytest.approx((0.1**2 + 0.2**2) ** 0.5)
