"""Vapour in a hose of flowing liquid, against heat balances by hand and against its limits.

R-134a at 25 °C: liquid 1207 kg/m³, vapour 32.4 kg/m³ (NIST REFPROP, from memory): r = 36.3.
"""

from __future__ import annotations

import itertools
import math
import random
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.engine.boiling import Flowing, Source, cooling, cut_off, still_cold, vapour_share

LONG_SINCE_KG = 5.0
STILL = Flowing(1.8, 0.04, 8e-3, LONG_SINCE_KG, 298.15)
STEADY = Source(298.15, 298.15, 60.0, 0.0, 0.0, None, None, 36.3, 36.3, 175e3)
CAN = Source(298.15, 298.15, 60.0, 0.0, 0.3, 0.5, 1.0, 36.3, 36.3, 175e3)


def test_by_hand_with_nothing_but_the_drop_at_the_valve() -> None:
    """x = 1.4 kJ/kgK * 0.44 K / 175 kJ/kg = 0.35 %; 0.0035 * 36.3 / (1 + 0.0035 * 36.3) = 11.3 %."""
    share, u = vapour_share(STILL, STEADY)
    assert share == pytest.approx(0.113, abs=0.003)
    assert 0.01 < u < 0.05


def test_by_hand_from_a_container_whose_clamp_falls() -> None:
    """3.6 K in 60 s: (65 * 1.8 + 0.029 * 1400) J/K * 0.06 K/s = 9.5 W of 1400 W: 0.68 %, with the drop 1.03 %: 27 %."""
    share, _ = vapour_share(replace(STILL, air_k=294.55), replace(STEADY, warmest_k=298.15, clamp_k=294.55))
    assert share == pytest.approx(0.27, abs=0.01)


def test_a_container_cools_by_the_heat_that_its_vapour_takes() -> None:
    """8 g/s leave room for 8 / 36.3 = 0.22 g/s of vapour, 38.6 W.

    They come out of 0.5 kg of liquid, 0.12 kg worth of metal and 0.5 kg * (0.03 * 125 - 1) / 36.3 worth of vapour:
    0.658 kg * 1400 J/kgK = 921 J/K, so 0.042 K/s.
    """
    assert cooling(replace(CAN, given_kg=0.0), 8e-3).rate_k_s == pytest.approx(0.0419, rel=0.01)


def test_a_clamp_that_does_not_fall_says_that_the_container_stands_in_warm_water() -> None:
    stands = cooling(replace(CAN, given_kg=0.45, left_kg=0.5), 8e-3)
    falls = cooling(replace(CAN, given_kg=0.45, left_kg=0.5, clamp_k=298.15 - 2.0), 8e-3)
    assert stands.rate_k_s < 0.4 * falls.rate_k_s


def test_the_fall_of_a_container_in_warm_water() -> None:
    """Against an integration: heat comes in with the drop, over 25 s, and the clamp shows what was 10 s ago."""
    left_kg, drop_k, seen_k, past, dt_s = 1.0, 0.0, 0.0, [0.0] * 100, 0.1
    while left_kg > 0.55:
        alone = cooling(replace(CAN, given_kg=0.0, left_kg=left_kg), 8e-3).rate_k_s
        fall = alone - drop_k / 25.0
        drop_k, left_kg = drop_k + fall * dt_s, left_kg - 8e-3 * dt_s
        past, seen_k = [*past[1:], drop_k], past[0]
    said = cooling(replace(CAN, given_kg=0.45, left_kg=0.55, clamp_k=298.15 - seen_k), 8e-3)
    assert fall < 0.3 * alone
    assert said.rate_k_s == pytest.approx(fall, abs=2.0 * said.rate_u * said.rate_k_s)
    assert said.rate_k_s < 0.7 * alone


def test_the_less_a_clamp_falls_the_slower_the_container_cools_and_nothing_jumps() -> None:
    """From a clamp that stands still to one that falls as it should, by a tenth of what a clamp resolves."""
    said = [cooling(replace(CAN, given_kg=0.45, clamp_k=298.15 - seen / 100.0), 8e-3) for seen in range(0, 300, 2)]
    rates = [one.rate_k_s for one in said]
    assert rates == sorted(rates)
    assert max(after - before for before, after in itertools.pairwise(rates)) < 0.05 * rates[-1]
    assert rates[0] < 0.1 * rates[-1]
    alone = cooling(replace(CAN, given_kg=0.0), 8e-3).rate_k_s
    assert rates[-1] > alone


def test_a_clamp_that_tells_nothing_yet_leaves_it_at_no_heat() -> None:
    """Just opened: the drop is less than a clamp resolves, and one container in twenty stands in warm water."""
    just = cooling(replace(CAN, given_kg=2e-3, since_s=0.3), 8e-3)
    assert just.rate_k_s == pytest.approx(cooling(replace(CAN, given_kg=0.0), 8e-3).rate_k_s, rel=0.05)
    assert just.rate_u < 0.25


def test_a_container_that_nobody_knows_cools_as_its_clamp_says() -> None:
    assert cooling(replace(STEADY, clamp_k=295.15), 8e-3).rate_k_s == pytest.approx(0.05)


def test_a_hose_warms_with_what_flows_through_it() -> None:
    """K = 65 * 1.8 + 0.04 * 1400 = 173 J/K. A filling of 20 K more than the hose leaves it 13.5 K short; then 1/e."""
    began, colder_k = still_cold(replace(STILL, air_k=278.15, through_kg=0.0), 298.15)
    assert began == 1.0
    assert colder_k == pytest.approx(13.5, abs=0.1)
    later, _ = still_cold(replace(STILL, air_k=278.15, through_kg=173.0 / 1400.0), 298.15)
    assert later == pytest.approx(math.exp(-1.0))


def test_a_hose_that_has_carried_liquid_is_no_colder_than_that_liquid_was() -> None:
    _, colder_k = still_cold(replace(STILL, air_k=278.15, began_k=297.15, through_kg=0.0), 298.15)
    assert colder_k == pytest.approx(117.0 / 173.0, rel=0.01)
    used = replace(STILL, began_k=297.15, through_kg=0.0)
    assert vapour_share(replace(used, used=True), CAN)[1] > vapour_share(used, CAN)[1]


def test_a_cold_hose_boils_nothing() -> None:
    share, _ = vapour_share(replace(STILL, air_k=278.15, through_kg=0.0), CAN)
    assert share < 0.01


def test_air_that_takes_the_heat_away_keeps_the_hose_full() -> None:
    share, _ = vapour_share(replace(STILL, air_k=298.15 - 40.0), STEADY)
    assert share < 0.01


@pytest.mark.parametrize(("mean", "u"), [(2.0, 1.0), (0.0, 1.0), (-1.0, 0.5), (0.3, 0.0), (-0.3, 0.0)])
def test_the_mean_of_what_is_cut_off_is_that_of_many_draws(mean: float, u: float) -> None:
    """JCGM 101: the same by propagation of distributions."""
    luck = random.Random(7)
    draws = [max(luck.gauss(mean, u), 0.0) for _ in range(20_000)]
    middle = sum(draws) / len(draws)
    spread = math.sqrt(sum((one - middle) ** 2 for one in draws) / len(draws))
    cut, cut_u = cut_off(mean, u)
    assert cut == pytest.approx(middle, abs=0.02)
    assert cut_u == pytest.approx(spread, abs=0.02)


@given(
    flow=st.floats(0.0, 0.05),
    through=st.floats(0.0, 2.0),
    clamp=st.floats(270.0, 298.15),
    air=st.floats(230.0, 330.0),
    left=st.none() | st.floats(-0.1, 1.0),
    ratio=st.floats(1.0, 300.0),
)
def test_it_is_a_share_whatever_is_read(  # one draw each
    flow: float, through: float, clamp: float, air: float, left: float | None, ratio: float
) -> None:
    source = replace(CAN, clamp_k=clamp, left_kg=left, density_ratio=ratio, mean_density_ratio=ratio)
    share, u = vapour_share(replace(STILL, flow_kg_s=flow, through_kg=through, air_k=air), source)
    assert 0.0 <= share < 1.0
    assert 0.0 <= u < math.inf
