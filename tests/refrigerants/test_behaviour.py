"""What must hold at every state: monotony, round trips, and the continuity of vapour and liquid at saturation."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillmark.refrigerants.base import RefrigerantModel
from fillmark.refrigerants.facade import get, names

models = st.sampled_from(names()).map(get)
share = st.floats(0.0, 1.0)
quick = settings(max_examples=120, deadline=None)


def at(refrigerant: RefrigerantModel, part: float) -> float:
    # From −60 °C, since the triple points lie far apart, to 0.5 K below the top.
    low = max(refrigerant.saturation_temperature_min_k, 213.15)
    return low + part * (refrigerant.saturation_temperature_max_k - 0.5 - low)


@quick
@given(models, share, share)
def test_pressure_and_densities_follow_temperature(refrigerant: RefrigerantModel, one: float, other: float) -> None:
    colder, warmer = sorted((at(refrigerant, one), at(refrigerant, other)))
    if warmer - colder < 1e-3:
        return
    assert refrigerant.bubble_pressure_pa(colder) < refrigerant.bubble_pressure_pa(warmer)
    assert refrigerant.dew_pressure_pa(colder) < refrigerant.dew_pressure_pa(warmer)
    liquid = refrigerant.saturated_liquid_density_kg_m3
    vapour = refrigerant.saturated_vapour_density_kg_m3
    assert liquid(colder) > liquid(warmer) > vapour(warmer) > vapour(colder)


@quick
@given(models, share)
def test_temperature_comes_back_from_pressure(refrigerant: RefrigerantModel, part: float) -> None:
    t = at(refrigerant, part)
    assert refrigerant.bubble_temperature_k(refrigerant.bubble_pressure_pa(t)) == pytest.approx(t, abs=1e-3)
    assert refrigerant.dew_temperature_k(refrigerant.dew_pressure_pa(t)) == pytest.approx(t, abs=1e-3)


@quick
@given(models, share)
def test_bubble_and_dew_are_kept_apart(refrigerant: RefrigerantModel, part: float) -> None:
    t = at(refrigerant, part)
    bubble, dew = refrigerant.bubble_pressure_pa(t), refrigerant.dew_pressure_pa(t)
    if refrigerant.blend:
        # An azeotrope touches: the lines of R-507A and R-513A part by less than a part in a million there.
        assert bubble >= dew * (1.0 - 1e-6)
        assert refrigerant.dew_temperature_k(dew) >= refrigerant.bubble_temperature_k(dew) - 1e-4
    else:
        assert bubble == dew


@quick
@given(models, share)
def test_vapour_ends_at_the_dew_line(refrigerant: RefrigerantModel, part: float) -> None:
    t = at(refrigerant, part * 0.9)
    dew, saturated = refrigerant.dew_pressure_pa(t), refrigerant.saturated_vapour_density_kg_m3(t)
    assert refrigerant.vapour_density_kg_m3(t, dew * 1.5) == saturated
    assert refrigerant.vapour_density_kg_m3(t, dew * (1.0 - 1e-6)) == pytest.approx(saturated, rel=1e-4)
    half, full = refrigerant.vapour_density_kg_m3(t, dew * 0.5), refrigerant.vapour_density_kg_m3(t, dew * 0.99)
    assert 0.0 < half < full < saturated


@quick
@given(models, share)
def test_liquid_begins_at_the_bubble_line(refrigerant: RefrigerantModel, part: float) -> None:
    t = at(refrigerant, part * 0.9)
    bubble, saturated = refrigerant.bubble_pressure_pa(t), refrigerant.saturated_liquid_density_kg_m3(t)
    assert refrigerant.liquid_density_kg_m3(t, bubble * 0.5) == saturated
    assert refrigerant.liquid_density_kg_m3(t, bubble * (1.0 + 1e-6)) == pytest.approx(saturated, rel=1e-4)
    assert saturated < refrigerant.liquid_density_kg_m3(t, bubble + 1e6)


@pytest.mark.parametrize("name", names())
def test_a_thin_vapour_is_an_ideal_gas(name: str) -> None:
    # ρ = pM/(RT), R = 8.314462618 J/mol/K (SI 2019). Between two temperatures the molar mass falls out.
    refrigerant = get(name)
    cold, warm = refrigerant.vapour_density_kg_m3(280.0, 10.0), refrigerant.vapour_density_kg_m3(350.0, 10.0)
    assert cold * 280.0 == pytest.approx(warm * 350.0, rel=1e-5)
    assert refrigerant.vapour_density_kg_m3(280.0, 0.0) == 0.0


# Molar masses, g/mol: tables of leak rates, computed from the formulas.
@pytest.mark.parametrize(
    ("name", "molar_mass"),
    [
        ("R-134a", 102.032),
        ("R-1234yf", 114.042),
        ("R-744", 44.010),
        ("R-152a", 66.051),
        ("R-290", 44.096),
        ("R-32", 52.024),
    ],
)
def test_the_molar_mass_shows_in_a_thin_vapour(name: str, molar_mass: float) -> None:
    density = get(name).vapour_density_kg_m3(300.0, 10.0)
    assert density * 8.314462618 * 300.0 / 10.0 * 1000.0 == pytest.approx(molar_mass, rel=2e-5)


@pytest.mark.parametrize("name", names())
def test_superheat_is_counted_from_dew_and_subcooling_from_bubble(name: str) -> None:
    refrigerant = get(name)
    pressure = refrigerant.dew_pressure_pa(280.0)
    assert refrigerant.superheat_k(286.0, pressure) == pytest.approx(6.0, abs=1e-4)
    assert refrigerant.superheat_k(275.0, pressure) == pytest.approx(-5.0, abs=1e-4)
    pressure = refrigerant.bubble_pressure_pa(300.0)
    assert refrigerant.subcooling_k(295.0, pressure) == pytest.approx(5.0, abs=1e-4)


def test_the_glide_of_r407c() -> None:
    # Lemmon (2003), Table V: at 300 K bubble 1.2507 MPa, dew 1.0757 MPa. Exchanging the two would show R-407C vapour
    # of 300 K at 1.0757 MPa as superheated by its glide of over 5 K instead of by nothing.
    refrigerant = get("R-407C")
    assert refrigerant.superheat_k(300.0, 1.0757e6) == pytest.approx(0.0, abs=0.02)
    assert refrigerant.subcooling_k(300.0, 1.2507e6) == pytest.approx(0.0, abs=0.02)
    assert refrigerant.dew_temperature_k(1.0757e6) - refrigerant.bubble_temperature_k(1.0757e6) > 5.0
