"""Liquid in a hose that is pulled dry, against heat balances by hand."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.engine.drying import Wet, left_wet

WARM = Wet(1.8, 0.040, 0.0, 293.15, 293.15, 268.15, 175e3)
"""40 g at 20 °C in 1.8 m of hose, open to a circuit in which it boils at -5 °C."""


def test_what_flashes_by_hand() -> None:
    """(65 J/mK * 1.8 m + 0.04 kg * 1400 J/kgK) * 25 K / 175 kJ/kg = 24.7 g; it flashes at some 3.5 g/s."""
    left, _ = left_wet(replace(WARM, air_k=268.15), 60.0)
    assert 0.040 - left == pytest.approx(24.7e-3, rel=0.01)
    early, _ = left_wet(replace(WARM, air_k=268.15), 1.0)
    assert 0.040 - early == pytest.approx(3.3e-3, rel=0.05)


def test_what_the_air_boils_off_by_hand() -> None:
    """0.4 W/mK * 1.8 m * 25 K / 175 kJ/kg = 0.103 g/s."""
    much = replace(WARM, liquid_kg=0.120)
    first, later = left_wet(much, 100.0)[0], left_wet(much, 140.0)[0]
    assert first - later == pytest.approx(40 * 0.103e-3, rel=0.1)


def test_a_hose_as_cold_as_it_boils_keeps_what_it_has() -> None:
    cold = Wet(1.8, 0.040, 0.0, 268.15, 268.15, 268.15, 175e3)
    left, u = left_wet(cold, 600.0)
    assert left == pytest.approx(0.040)
    assert u == pytest.approx(0.0)


def test_where_the_pressure_is_unknown_the_doubt_says_so() -> None:
    left, u = left_wet(replace(WARM, boils_at_k=None), 60.0)
    assert 5e-3 < left < 10e-3
    assert u > 3e-3


@given(
    liquid=st.floats(0.0, 0.2),
    u=st.floats(0.0, 0.05),
    hose=st.floats(220.0, 340.0),
    air=st.floats(230.0, 330.0),
    boils=st.floats(200.0, 330.0),
    pulled=st.floats(0.0, 1e5),
)
def test_it_is_never_less_than_nothing_nor_grows(  # one draw each
    liquid: float, u: float, hose: float, air: float, boils: float, pulled: float
) -> None:
    wet = Wet(1.8, liquid, u, hose, air, boils, 175e3)
    left, doubt = left_wet(wet, pulled)
    assert left >= 0.0
    assert doubt >= 0.0
    assert left <= liquid + u + 1e-9
