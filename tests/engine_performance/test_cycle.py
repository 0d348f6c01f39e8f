"""The cycle against published saturation points and worked examples; dew and bubble never exchanged."""

from __future__ import annotations

import math

import pytest

from fillmark.engine.performance.cycle import Cycle, CycleInput, cycle, sentences
from fillmark.engine.performance.values import Probes
from fillmark.engine.quantity import Quantity
from fillmark.refrigerants import facade


def known(value: Quantity | None) -> Quantity:
    assert value is not None
    return value


def seen(refrigerant: str, given: CycleInput, probes: Probes | None = None) -> Cycle:
    return cycle(facade.get(refrigerant), given, probes or Probes())


def test_worked_example_minus_20_to_1_2_megapascal() -> None:
    # Textbook exercise, R-134a between -20 °C and 1.2 MPa (read in a solution of coursehero HW22s):
    # p1 = 132.82 kPa, condensing 46.29 °C. Its tables allow 0.1 % in pressure, so 0.03 K.
    found = seen("R-134a", CycleInput(low_abs_pa=132.82e3, high_abs_pa=1.2e6, liquid_k=313.15, suction_k=263.15))
    assert known(found.evaporating).value - 273.15 == pytest.approx(-20.0, abs=0.05)
    assert known(found.condensing).value - 273.15 == pytest.approx(46.29, abs=0.05)
    assert known(found.superheat).value == pytest.approx(10.0, abs=0.05)
    assert known(found.subcooling).value == pytest.approx(6.29, abs=0.05)
    assert known(found.pressure_ratio).value == pytest.approx(1200.0 / 132.82, rel=1e-9)


def test_saturation_of_r134a_is_tillner_roth_and_baehrs() -> None:
    # J. Phys. Chem. Ref. Data 23 (1994) 657, table 8: 250 K 0.11561 MPa; 300 K 0.70282 MPa; 350 K 2.4611 MPa.
    for kelvin, pascal in ((250.0, 0.11561e6), (300.0, 0.70282e6), (350.0, 2.4611e6)):
        assert known(seen("R-134a", CycleInput(low_abs_pa=pascal)).evaporating).value == pytest.approx(kelvin, abs=0.01)


def test_dew_is_low_and_bubble_is_high_in_r407c() -> None:
    # Lemmon, Int. J. Thermophys. 24 (2003) 991, table V: R-407C at 300 K, bubble 1.2507 MPa, dew 1.0757 MPa.
    found = seen(
        "R-407C",
        CycleInput(low_abs_pa=1.0757e6, high_abs_pa=1.2507e6, suction_k=305.0, liquid_k=296.0, ambient_k=290.0),
    )
    assert known(found.evaporating).value == pytest.approx(300.0, abs=0.02)
    assert known(found.condensing_bubble).value == pytest.approx(300.0, abs=0.02)
    assert known(found.superheat).value == pytest.approx(5.0, abs=0.02)
    assert known(found.subcooling).value == pytest.approx(4.0, abs=0.02)


@pytest.mark.parametrize(("refrigerant", "glide_k"), [("R-407C", 5.6), ("R-454C", 8.0), ("R-513A", 0.0)])
def test_exchanging_dew_and_bubble_would_be_kelvins_wrong(refrigerant: str, glide_k: float) -> None:
    # Glide at 1.0 MPa as computed with the mixture models of CoolProp 8.0.0.
    found = seen(refrigerant, CycleInput(high_abs_pa=1.0e6, ambient_k=280.0))
    dew, bubble = known(found.condensing_dew), known(found.condensing_bubble)
    assert dew.value - bubble.value == pytest.approx(glide_k, abs=0.1)
    assert known(found.condensing).value == pytest.approx((dew.value + bubble.value) / 2.0)


def test_what_is_not_read_is_unknown_and_nothing_is_guessed() -> None:
    empty = seen("R-134a", CycleInput())
    assert empty == Cycle(CycleInput(), *[None] * 13)
    partly = seen("R-134a", CycleInput(low_abs_pa=3e5, ambient_k=300.0))
    assert partly.evaporating is not None
    assert partly.superheat is None
    assert partly.over_ambient is None


@pytest.mark.parametrize("pressure", [0.0, -5.0, math.inf, math.nan, 1.0, 9e7])
def test_a_pressure_without_saturation_is_unknown(pressure: float) -> None:
    found = seen("R-134a", CycleInput(low_abs_pa=pressure, suction_k=280.0))
    assert found.evaporating is None
    assert found.superheat is None


def test_carbon_dioxide_above_its_critical_pressure_does_not_condense() -> None:
    # Span and Wagner (1996): critical pressure 7.3773 MPa.
    hot = seen("R-744", CycleInput(low_abs_pa=3.5e6, high_abs_pa=9e6, liquid_k=308.15, ambient_k=303.15))
    assert hot.transcritical is True
    assert hot.condensing is None
    assert hot.over_ambient is None
    assert hot.subcooling is None
    assert known(hot.gas_cooler_approach).value == pytest.approx(5.0)
    assert "leaves the cooler" in " ".join(sentences(facade.get("R-744"), hot))
    cool = seen("R-744", CycleInput(low_abs_pa=3.0e6, high_abs_pa=5.7291e6, ambient_k=283.15))
    assert cool.transcritical is False
    assert known(cool.condensing).value == pytest.approx(293.15, abs=0.02)


def test_uncertainty_follows_from_the_probes() -> None:
    # GUM 5.1.2 by hand: R-134a at 300 K, slope by the table's neighbours is about 20 kPa/K, so 10 kPa is 0.5 K.
    probes = Probes(pressure_pa=10e3, pressure_share=0.0, clamp_k=1.2)
    found = seen("R-134a", CycleInput(low_abs_pa=702.82e3, suction_k=310.0), probes)
    assert known(found.evaporating).u == pytest.approx(0.5, abs=0.03)
    assert known(found.superheat).u == pytest.approx(math.hypot(0.5, 1.2), abs=0.03)
    sharp = seen("R-134a", CycleInput(low_abs_pa=702.82e3, suction_k=310.0), Probes(0.0, 0.0, 0.0))
    assert known(sharp.superheat).u == pytest.approx(0.0, abs=1e-9)


def test_it_says_what_it_saw_with_numbers() -> None:
    # R-134a has 60 °C at 16.82 bar (ASHRAE Fundamentals, from memory: 1.6818 MPa).
    found = seen("R-134a", CycleInput(high_abs_pa=16.818e5, ambient_k=303.15))
    text = " ".join(sentences(facade.get("R-134a"), found))
    assert "16.8 bar absolute = 60.0 °C" in text
    assert "30.0 ± " in text
    assert "over ambient 30.0 °C" in text


def test_early_in_a_charge_nothing_condenses() -> None:
    # About 15 psi low and 65 psi high on the gauges, at 67 °F: common practice, no source. 14.7 psi of air are added.
    psi = 6894.757
    found = seen("R-134a", CycleInput(low_abs_pa=29.7 * psi, high_abs_pa=79.7 * psi, ambient_k=292.6))
    assert known(found.evaporating).value < 273.15 - 5.0
    assert abs(known(found.over_ambient).value) < 2.0
