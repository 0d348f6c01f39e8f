"""Outside the range an error is raised, and at its ends an answer is given."""

from __future__ import annotations

import math
from collections.abc import Callable

import pytest

from fillmark.refrigerants.base import RefrigerantModel
from fillmark.refrigerants.facade import OutOfRangeError, get, names

Ask = Callable[[RefrigerantModel, float], float]
BY_TEMPERATURE: list[Ask] = [
    lambda r, t: r.bubble_pressure_pa(t),
    lambda r, t: r.dew_pressure_pa(t),
    lambda r, t: r.saturated_liquid_density_kg_m3(t),
    lambda r, t: r.saturated_vapour_density_kg_m3(t),
    lambda r, t: r.liquid_density_kg_m3(t, 1e7),
]
BY_PRESSURE: list[Ask] = [
    lambda r, p: r.bubble_temperature_k(p),
    lambda r, p: r.dew_temperature_k(p),
    lambda r, p: r.superheat_k(300.0, p),
    lambda r, p: r.subcooling_k(300.0, p),
]
NO_NUMBERS = (math.nan, math.inf, -math.inf, 0.0, -1.0)


@pytest.mark.parametrize("name", names())
def test_temperatures_without_saturation_are_refused(name: str) -> None:
    refrigerant = get(name)
    low, high = refrigerant.saturation_temperature_min_k, refrigerant.saturation_temperature_max_k
    for ask in BY_TEMPERATURE:
        for t in (low - 0.01, high + 0.01, refrigerant.critical_temperature_k + 1.0, *NO_NUMBERS):
            with pytest.raises(OutOfRangeError, match=name):
                ask(refrigerant, t)


@pytest.mark.parametrize("name", names())
def test_pressures_without_saturation_are_refused(name: str) -> None:
    refrigerant = get(name)
    low_pa = refrigerant.dew_pressure_pa(refrigerant.saturation_temperature_min_k)
    high_pa = refrigerant.bubble_pressure_pa(refrigerant.saturation_temperature_max_k)
    for ask in BY_PRESSURE:
        for p in (low_pa * 0.99, high_pa * 1.01, 1e8, *NO_NUMBERS):
            with pytest.raises(OutOfRangeError, match=name):
                ask(refrigerant, p)


@pytest.mark.parametrize("name", names())
def test_the_ends_belong_to_the_range(name: str) -> None:
    refrigerant = get(name)
    for t in (refrigerant.saturation_temperature_min_k, refrigerant.saturation_temperature_max_k):
        assert refrigerant.bubble_pressure_pa(t) >= refrigerant.dew_pressure_pa(t) * (1.0 - 1e-9) > 0.0
        # At the critical point of a pure fluid both densities are one, but for rounding.
        vapour = refrigerant.saturated_vapour_density_kg_m3(t)
        assert refrigerant.saturated_liquid_density_kg_m3(t) >= vapour * (1.0 - 1e-9) > 0.0
        assert refrigerant.dew_temperature_k(refrigerant.dew_pressure_pa(t)) == pytest.approx(t, abs=1e-4)
        assert refrigerant.bubble_temperature_k(refrigerant.bubble_pressure_pa(t)) == pytest.approx(t, abs=1e-4)
        # And back again: no end is refused for a rounding error.
        assert refrigerant.dew_pressure_pa(refrigerant.dew_temperature_k(refrigerant.dew_pressure_pa(t))) > 0.0
        assert refrigerant.bubble_pressure_pa(refrigerant.bubble_temperature_k(refrigerant.bubble_pressure_pa(t))) > 0.0


def test_r744_has_no_saturation_above_its_critical_temperature() -> None:
    # Span & Wagner (1996): 304.1282 K, that is 30.978 °C.
    carbon_dioxide = get("CO2")
    assert carbon_dioxide.dew_pressure_pa(273.15 + 30.97) > 7.3e6
    with pytest.raises(OutOfRangeError, match=r"R-744 has no saturation at 31\.00 °C"):
        carbon_dioxide.dew_pressure_pa(273.15 + 31.0)
    with pytest.raises(OutOfRangeError, match=r"R-744 has no saturation at 90 bar"):
        carbon_dioxide.subcooling_k(303.15, 9.0e6)


def test_r744_has_no_liquid_below_its_triple_point() -> None:
    # Span & Wagner (1996): 216.592 K, 0.51795 MPa.
    carbon_dioxide = get("CO2")
    assert carbon_dioxide.saturation_temperature_min_k == pytest.approx(216.592, abs=1e-3)
    with pytest.raises(OutOfRangeError):
        carbon_dioxide.dew_temperature_k(0.51e6)
    with pytest.raises(OutOfRangeError):
        carbon_dioxide.vapour_density_kg_m3(216.0, 1e5)


@pytest.mark.parametrize("name", names())
def test_vapour_densities_out_of_range_are_refused(name: str) -> None:
    refrigerant = get(name)
    low, high = refrigerant.saturation_temperature_min_k, refrigerant.vapour_temperature_max_k
    for t in (low - 0.01, high + 0.01, math.nan, math.inf, 0.0, -1.0):
        with pytest.raises(OutOfRangeError, match=name):
            refrigerant.vapour_density_kg_m3(t, 1e5)
    for p in (-1.0, math.nan, math.inf, 1e10):
        with pytest.raises(OutOfRangeError, match=name):
            refrigerant.vapour_density_kg_m3(300.0, p)
        with pytest.raises(OutOfRangeError, match=name):
            refrigerant.liquid_density_kg_m3(270.0, p)
    assert refrigerant.vapour_density_kg_m3(high, 1e5) > 0.0


@pytest.mark.parametrize("name", names())
def test_a_temperature_that_is_no_number_has_no_superheat(name: str) -> None:
    for t in (math.nan, math.inf, -1.0):
        with pytest.raises(OutOfRangeError, match="temperature"):
            get(name).superheat_k(t, 6e5)
        with pytest.raises(OutOfRangeError, match="temperature"):
            get(name).subcooling_k(t, 6e5)


def test_a_blend_above_its_dew_line_is_answered_only_where_it_is_surely_vapour() -> None:
    refrigerant = get("R-407C")
    top_pa = refrigerant.dew_pressure_pa(refrigerant.saturation_temperature_max_k)
    between_k = refrigerant.critical_temperature_k - 1.0
    assert refrigerant.vapour_density_kg_m3(between_k, top_pa * 0.99) > 0.0
    with pytest.raises(OutOfRangeError):
        refrigerant.vapour_density_kg_m3(between_k, top_pa * 1.01)
