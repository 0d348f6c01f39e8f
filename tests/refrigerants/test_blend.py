"""The splines of the blends against the mixture flash they were laid through, and the table behind them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import CoolProp
import pytest

from fillmark.refrigerants.composition import MASS_FRACTIONS
from fillmark.refrigerants.coolprop import new_state
from fillmark.refrigerants.facade import get, names
from fillmark.refrigerants.names import TABLE
from fillmark.refrigerants.trace import DEW, TraceError, trace

BLENDS = [name for name in names() if get(name).blend]
POINTS = 24


def model_of(name: str) -> str:
    return next(listed.model for listed in TABLE if listed.name == name)


@pytest.mark.parametrize("name", BLENDS)
@pytest.mark.parametrize("quality", [0.0, 1.0])
def test_splines_follow_the_flash(name: str, quality: float, coolprop_state: Callable[[str], Any]) -> None:
    refrigerant, flash = get(name), coolprop_state(model_of(name))
    if quality == 0.0:
        pressure, temperature = refrigerant.bubble_pressure_pa, refrigerant.bubble_temperature_k
        density = refrigerant.saturated_liquid_density_kg_m3
    else:
        pressure, temperature = refrigerant.dew_pressure_pa, refrigerant.dew_temperature_k
        density = refrigerant.saturated_vapour_density_kg_m3
    low, high = refrigerant.saturation_temperature_min_k, refrigerant.saturation_temperature_max_k
    compared = 0
    for i in range(POINTS):
        t = low + (high - low) * (i + 0.37) / POINTS
        try:
            flash.update(CoolProp.QT_INPUTS, quality, t)
        except ValueError:
            continue  # The library's own guess fails here and there; the count below keeps this honest.
        assert pressure(t) == pytest.approx(flash.p(), rel=1e-5)
        assert temperature(flash.p()) == pytest.approx(t, abs=1e-3)
        assert density(t) == pytest.approx(flash.rhomass(), rel=2e-4)
        compared += 1
    assert compared >= POINTS - 4


@pytest.mark.parametrize("name", BLENDS)
def test_superheated_vapour_follows_the_free_flash(name: str, coolprop_state: Callable[[str], Any]) -> None:
    # The façade imposes the gas phase; the free flash decides on the phase itself and takes milliseconds.
    refrigerant, flash = get(name), coolprop_state(model_of(name))
    for t, part in ((250.0, 0.9), (300.0, 0.5), (325.0, 0.95)):
        p = refrigerant.dew_pressure_pa(t) * part
        flash.update(CoolProp.PT_INPUTS, p, t)
        assert refrigerant.vapour_density_kg_m3(t, p) == pytest.approx(flash.rhomass(), rel=1e-8)


@pytest.mark.parametrize("name", ["R-407C", "R-410A", "R-404A", "R-507A"])
def test_critical_temperature_is_that_of_the_pseudo_pure_equation(
    name: str, coolprop_state: Callable[[str], Any]
) -> None:
    # Lemmon, Int. J. Thermophys. 24 (2003) 991.
    pseudo = coolprop_state(name.replace("-", ""))
    assert get(name).critical_temperature_k == pytest.approx(pseudo.T_critical(), abs=1e-3)


@pytest.mark.parametrize("name", ["R-513A", "R-450A", "R-452A", "R-454B", "R-454C"])
def test_critical_temperature_is_that_of_the_mixture_model(name: str, coolprop_state: Callable[[str], Any]) -> None:
    points = coolprop_state(model_of(name)).all_critical_points()
    outer = max(point.T for point in points if point.stable)
    assert get(name).critical_temperature_k == pytest.approx(outer, abs=1e-3)


@pytest.mark.parametrize("name", BLENDS)
def test_composition_is_that_of_the_mixture_model(name: str, coolprop_state: Callable[[str], Any]) -> None:
    state = coolprop_state(model_of(name))
    modelled = {
        f"R-{fluid.removeprefix('R')}": fraction
        for fluid, fraction in zip(state.fluid_names(), state.get_mass_fractions(), strict=True)
    }
    assert modelled == pytest.approx(dict(MASS_FRACTIONS[name]), abs=1e-6)


def test_every_blend_and_nothing_else_has_a_composition() -> None:
    assert set(MASS_FRACTIONS) == set(BLENDS)
    assert all(sum(parts.values()) == pytest.approx(1.0, abs=1e-12) for parts in MASS_FRACTIONS.values())


def test_a_line_that_cannot_be_followed_is_refused() -> None:
    with pytest.raises(TraceError):
        trace(new_state("R407C.mix"), DEW, 250.0, 400.0)
