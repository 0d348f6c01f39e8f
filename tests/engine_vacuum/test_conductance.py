"""Conductances against the handbook's own numbers for air at 20 °C."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.engine.vacuum.conductance import (
    effective_speed_m3_s,
    in_series_m3_s,
    molecular_m3_s,
    viscous_m3_s,
)


def test_viscous_conductance_is_135_d4_over_l() -> None:
    # Leybold, Fundamentals of Vacuum Technology, section 1.5.2 (from memory): 135 d**4 p / L in l/s, cm, mbar.
    assert viscous_m3_s(0.01, 1.0, 100.0) * 1e3 == pytest.approx(135.0 / 100.0, rel=0.01)


def test_molecular_conductance_is_12_d3_over_l() -> None:
    # The same: 12.1 d**3 / L in l/s and cm.
    assert molecular_m3_s(0.01, 1.0) * 1e3 == pytest.approx(12.1 / 100.0, rel=0.01)


def test_a_conductance_as_large_as_the_pump_halves_it() -> None:
    assert in_series_m3_s(2e-3, 2e-3) == pytest.approx(1e-3)


@given(st.floats(1.0, 1e5), st.floats(2e-3, 12e-3), st.floats(0.3, 5.0))
def test_a_hose_never_makes_a_pump_faster(pressure: float, bore: float, length: float) -> None:
    found = effective_speed_m3_s(1e-3, bore, length, pressure)
    assert 0.0 < found <= 1e-3
    assert effective_speed_m3_s(1e-3, bore, length, 2.0 * pressure) >= found * (1.0 - 1e-6)
    assert effective_speed_m3_s(1e-3, bore / 2.0, length, pressure) <= found * (1.0 + 1e-6)
