"""Heat of evaporation by Clausius and Clapeyron, against the enthalpies of the same library and published figures."""

from __future__ import annotations

import pytest
from CoolProp.CoolProp import PropsSI

from fillmark.engine.evaporation import density_ratio, evaporation_j_kg
from fillmark.refrigerants import facade
from fillmark.refrigerants.protocol import OutOfRangeError


@pytest.mark.parametrize(("name", "fluid"), [("R-134a", "R134a"), ("R-1234yf", "R1234yf"), ("R-32", "R32")])
@pytest.mark.parametrize("celsius", [-10.0, 10.0, 25.0, 45.0])
def test_it_is_the_difference_of_the_enthalpies(name: str, fluid: str, celsius: float) -> None:
    kelvin = celsius + 273.15
    vapour, liquid = (float(PropsSI("H", "T", kelvin, "Q", quality, fluid)) for quality in (1.0, 0.0))
    assert evaporation_j_kg(facade.get(name), kelvin) == pytest.approx(vapour - liquid, rel=0.003)


def test_near_25_c_as_published() -> None:
    """177.8 and 145.4 kJ/kg, densities 1207 over 32.4 kg/m³ (NIST REFPROP, from memory)."""
    assert evaporation_j_kg(facade.get("R-134a"), 298.15) == pytest.approx(177.8e3, rel=0.005)
    assert evaporation_j_kg(facade.get("R-1234yf"), 298.15) == pytest.approx(145.4e3, rel=0.01)
    assert density_ratio(facade.get("R-134a"), 298.15) == pytest.approx(36.3, rel=0.01)


def test_of_a_blend_it_is_some_percent_off() -> None:
    """R-410A at 25 °C: 187 kJ/kg (NIST REFPROP, from memory)."""
    assert evaporation_j_kg(facade.get("R-410A"), 298.15) == pytest.approx(187e3, rel=0.05)


def test_above_the_critical_point_there_is_none() -> None:
    with pytest.raises(OutOfRangeError):
        evaporation_j_kg(facade.get("R-744"), 310.0)
