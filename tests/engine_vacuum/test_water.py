"""Water against the check values of the releases and printed tables."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.engine.vacuum import water

# IAPWS R7-97(2012), Table 35 (saturation pressure) and Table 36 (saturation temperature).
IF97_PRESSURES = [(300.0, 0.353658941e4), (500.0, 0.263889776e7), (600.0, 0.123443146e8)]
IF97_TEMPERATURES = [(0.1e6, 0.372755919e3), (1e6, 0.453035632e3), (10e6, 0.584149488e3)]

# ASHRAE Handbook, Fundamentals (2017), chapter 1, Table 3.
ASHRAE = [(-60.0, 1.08), (-20.0, 103.24), (-5.0, 401.74), (5.0, 872.6), (25.0, 3169.7), (50.0, 12351.3)]

# Worked out with the IAPWS-95 and R14-08 equations of an independent library, in micron of mercury and °C.
MICRONS = [(100, -39.67), (500, -24.48), (1000, -17.31), (2000, -9.71), (5000, 1.20), (20000, 22.13)]


@pytest.mark.parametrize(("kelvin", "pascal"), IF97_PRESSURES)
def test_pressure_over_liquid_is_that_of_the_release(kelvin: float, pascal: float) -> None:
    assert water.saturation_pressure_pa(kelvin) == pytest.approx(pascal, rel=1e-8)


@pytest.mark.parametrize(("pascal", "kelvin"), IF97_TEMPERATURES)
def test_temperature_over_liquid_is_that_of_the_release(pascal: float, kelvin: float) -> None:
    assert water.saturation_temperature_k(pascal) == pytest.approx(kelvin, rel=1e-8)


def test_pressure_over_ice_is_that_of_the_release() -> None:
    assert water.saturation_pressure_pa(230.0) == pytest.approx(8.94735, rel=1e-6)  # IAPWS R14-08(2011), Table 3
    assert water.saturation_pressure_pa(water.TRIPLE_K) == pytest.approx(611.657, rel=1e-7)  # the triple point


@pytest.mark.parametrize(("celsius", "pascal"), ASHRAE)
def test_agrees_with_the_printed_table(celsius: float, pascal: float) -> None:
    assert water.saturation_pressure_pa(celsius + 273.15) == pytest.approx(pascal, rel=2e-4, abs=0.006)


@pytest.mark.parametrize(("micron", "celsius"), MICRONS)
def test_boiling_temperature_in_a_deep_vacuum(micron: int, celsius: float) -> None:
    assert water.saturation_temperature_k(micron * 0.133322387415) - 273.15 == pytest.approx(celsius, abs=0.006)


def test_water_in_a_deep_vacuum_is_ice_and_above_the_triple_point_liquid() -> None:
    assert water.phase_at(500 * 0.1333) is water.Phase.ICE
    assert water.phase_at(5000 * 0.1333) is water.Phase.LIQUID


@given(st.floats(160.0, 640.0))
def test_temperature_and_pressure_are_inverse(kelvin: float) -> None:
    assert water.saturation_temperature_k(water.saturation_pressure_pa(kelvin)) == pytest.approx(kelvin, abs=2e-3)


@given(st.floats(131.0, 646.0), st.floats(0.01, 1.0))
def test_pressure_rises_with_temperature(kelvin: float, more: float) -> None:
    assert water.saturation_pressure_pa(kelvin + more) > water.saturation_pressure_pa(kelvin)


def test_slope_is_that_of_clausius_and_clapeyron() -> None:
    # L M / (R T²) with 2453.5 kJ/kg at 20 °C (steam tables): 0.0619 1/K.
    assert water.relative_slope_per_k(293.15) == pytest.approx(2453.5e3 * 0.018015 / (8.31446 * 293.15**2), rel=2e-3)


@pytest.mark.parametrize("kelvin", [100.0, 700.0, float("nan")])
def test_outside_the_equations_is_refused(kelvin: float) -> None:
    with pytest.raises(water.WaterRangeError, match="give a temperature"):
        water.saturation_pressure_pa(kelvin)


@pytest.mark.parametrize("pascal", [0.0, -1.0, 3e7, float("nan")])
def test_no_temperature_for_a_pressure_outside(pascal: float) -> None:
    with pytest.raises(water.WaterRangeError, match="give an absolute pressure"):
        water.saturation_temperature_k(pascal)
