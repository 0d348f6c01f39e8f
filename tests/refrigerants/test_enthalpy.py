from __future__ import annotations

import itertools

import pytest

from fillmark.refrigerants import facade
from fillmark.refrigerants.enthalpy import dome, liquid_j_kg, vapour_j_kg
from fillmark.refrigerants.protocol import OutOfRangeError

ZERO_K = 273.15
# Saturated vapour at 0 °C, kJ/kg, with 200 kJ/kg for saturated liquid at 0 °C (IIR): ASHRAE Handbook, Fundamentals,
# thermophysical properties of refrigerants. From memory.
VAPOUR_AT_0 = [("R-134a", 398.60), ("R-744", 430.89), ("R-290", 574.87)]
PURE = ["R-134a", "R-1234yf", "R-744", "R-152a", "R-290", "R-32"]


@pytest.mark.parametrize(("name", "wanted"), VAPOUR_AT_0)
def test_saturated_vapour_at_0_celsius(name: str, wanted: float) -> None:
    fluid = facade.get(name)
    pressure = fluid.dew_pressure_pa(ZERO_K)
    assert vapour_j_kg(fluid, ZERO_K, pressure) / 1e3 == pytest.approx(wanted, abs=0.1)
    assert liquid_j_kg(fluid, ZERO_K, pressure) / 1e3 == pytest.approx(200.0, abs=1e-6)


# Clausius and Clapeyron: the heat of boiling is T (v'' - v') dp/dT. Any textbook of thermodynamics.
@pytest.mark.parametrize("name", PURE)
@pytest.mark.parametrize("kelvin", [253.15, 283.15])
def test_the_heat_of_boiling_agrees_with_densities_and_vapour_pressure(name: str, kelvin: float) -> None:
    fluid = facade.get(name)
    slope = (fluid.dew_pressure_pa(kelvin + 0.05) - fluid.dew_pressure_pa(kelvin - 0.05)) / 0.1
    gas, liquid = fluid.saturated_vapour_density_kg_m3(kelvin), fluid.saturated_liquid_density_kg_m3(kelvin)
    expected = kelvin * (1.0 / gas - 1.0 / liquid) * slope
    pressure = fluid.dew_pressure_pa(kelvin)
    found = vapour_j_kg(fluid, kelvin, pressure) - liquid_j_kg(fluid, kelvin, pressure)
    assert found == pytest.approx(expected, rel=2e-4)


@pytest.mark.parametrize("name", facade.names())
def test_every_refrigerant_has_a_dome_that_narrows_towards_its_top(name: str) -> None:
    points = dome(facade.get(name))
    assert len(points) >= 30
    assert all(one.dew_j_kg > one.bubble_j_kg for one in points)
    assert all(lower.bubble_abs_pa < upper.bubble_abs_pa for lower, upper in itertools.pairwise(points))
    widths = [one.dew_j_kg - one.bubble_j_kg for one in points]
    assert widths == sorted(widths, reverse=True)


def test_a_probe_on_the_wrong_side_of_saturation_is_put_on_the_line() -> None:
    fluid = facade.get("R-134a")
    at_line = vapour_j_kg(fluid, fluid.dew_temperature_k(3e5), 3e5)
    assert vapour_j_kg(fluid, fluid.dew_temperature_k(3e5) - 4.0, 3e5) == at_line
    assert vapour_j_kg(fluid, fluid.dew_temperature_k(3e5) + 4.0, 3e5) > at_line
    boiling = liquid_j_kg(fluid, fluid.bubble_temperature_k(1e6), 1e6)
    assert liquid_j_kg(fluid, fluid.bubble_temperature_k(1e6) + 4.0, 1e6) == boiling
    assert liquid_j_kg(fluid, fluid.bubble_temperature_k(1e6) - 4.0, 1e6) < boiling


def test_what_is_not_there_is_refused() -> None:
    fluid = facade.get("R-134a")
    with pytest.raises(OutOfRangeError):
        liquid_j_kg(fluid, 300.0, 6e6)  # above the critical pressure there is no line to be below of
    with pytest.raises(OutOfRangeError):
        vapour_j_kg(fluid, 300.0, 0.0)
