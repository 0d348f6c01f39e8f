"""Vapour in a hose of flowing liquid, against a heat balance by hand and against its limits.

R-134a at 25 °C: liquid 1207 kg/m³, vapour 32.4 kg/m³ (NIST REFPROP, from memory): r = 36.3.
"""

from __future__ import annotations

import math
import random
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.engine.boiling import VALVE_DROP_K, Flowing, vapour_share

STILL = Flowing(1.8, 0.04, 8e-3, 298.15, 298.15, 0.0, 36.3)


def test_by_hand_with_nothing_but_the_drop_at_the_valve() -> None:
    """x = 1.4 kJ/kgK * 0.5 K / 175 kJ/kg = 0.4 %; 0.004 * 36.3 / (1 + 0.004 * 36.3) = 12.7 %."""
    share, u = vapour_share(STILL)
    assert share == pytest.approx(0.127, abs=0.003)
    assert 0.03 < u < 0.06


def test_by_hand_from_a_container_that_cools() -> None:
    """(80 * 1.8 + 0.04 * 1400) J/K * 0.06 K/s = 12 W of 1400 W: 0.86 %, with the drop 1.26 %: 31 % of the room."""
    share, _ = vapour_share(replace(STILL, cooling_k_s=0.06))
    assert share == pytest.approx(0.314, abs=0.01)


def test_air_that_takes_the_heat_away_keeps_the_hose_full() -> None:
    share, _ = vapour_share(replace(STILL, air_k=298.15 - 40.0))
    assert share < 0.01


def test_the_mean_of_what_is_cut_off_is_that_of_many_draws() -> None:
    """JCGM 101: the same by propagation of the three terms' distributions, at one point."""
    luck = random.Random(7)
    stored, lost, dropped = 200.0 * 0.02 / 1400.0, 0.72 * 6.0 / 1400.0, VALVE_DROP_K * 1400.0 / 175e3
    draws = [
        max(stored * luck.gauss(1.0, 0.4) - lost * luck.gauss(1.0, 0.4) + dropped * luck.gauss(1.0, 0.4), 0.0)
        for _ in range(20_000)
    ]
    shares = [x * 36.3 / (1.0 + x * 36.3) for x in draws]
    mean = sum(shares) / len(shares)
    spread = math.sqrt(sum((one - mean) ** 2 for one in shares) / len(shares))
    share, u = vapour_share(replace(STILL, cooling_k_s=0.02, air_k=292.15))
    assert share == pytest.approx(mean, rel=0.1)
    assert u == pytest.approx(spread, rel=0.2)


@given(
    flow=st.floats(0.0, 0.05),
    cooling=st.floats(-0.5, 0.5),
    air=st.floats(230.0, 330.0),
    ratio=st.floats(1.0, 300.0),
)
def test_it_is_a_share_and_grows_as_the_container_cools(flow: float, cooling: float, air: float, ratio: float) -> None:
    flowing = replace(STILL, flow_kg_s=flow, cooling_k_s=cooling, air_k=air, density_ratio=ratio)
    share, u = vapour_share(flowing)
    assert 0.0 <= share < 1.0
    assert 0.0 <= u < math.inf
    faster, _ = vapour_share(replace(flowing, cooling_k_s=max(cooling, 0.0) + 0.05))
    assert faster >= share - 1e-9
