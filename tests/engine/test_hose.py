"""What a hose holds: against textbook densities, and how the valves at its ends change it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillmark.engine.around import Conditions
from fillmark.engine.hold_up import (
    NOTHING,
    VAPOUR_SHARE_U,
    HoldUp,
    bore_volume_m3,
    liquid_hold_up,
    vapour_hold_up,
)
from fillmark.engine.hose import Feed, HoseContent
from fillmark.engine.setup import Hose
from fillmark.engine.sweeping import SWEPT_KG_S
from fillmark.refrigerants import facade

if TYPE_CHECKING:
    from tests.engine.conftest import ToyFluid

SERVICE = Hose(1.8, 4.8e-3)
WIDE = Hose(2.5, 8e-3)


def _around(
    temperature: float | None = 293.15, *, circuit: float | None = None, engine: bool | None = None
) -> Conditions:
    return Conditions(temperature, None, circuit, engine)


def test_volume_of_the_bore() -> None:
    """1.8 m × 4.8 mm are 33 ml, 2.5 m × 8 mm are 126 ml, by hand."""
    assert bore_volume_m3(SERVICE) == pytest.approx(33e-6, abs=0.5e-6)
    assert bore_volume_m3(WIDE) == pytest.approx(126e-6, abs=0.5e-6)


@pytest.mark.parametrize(
    ("name", "hose", "grams"),
    # Saturated liquid at 20 °C (R-134a 1225.3, R-1234yf 1109.9 kg/m³: Tillner-Roth and Baehr 1994, Lemmon and
    # Akasaka 2022, by way of a computed table) times the bore: 40 g, 36 g, 154 g.
    [("R-134a", SERVICE, 40.0), ("R-1234yf", SERVICE, 36.0), ("R-134a", WIDE, 154.0)],
)
def test_a_hose_of_liquid_holds_tens_of_grams(name: str, hose: Hose, grams: float) -> None:
    held = liquid_hold_up(hose, facade.get(name), 293.15)
    assert held is not None
    assert held.mass_kg * 1e3 == pytest.approx(grams, abs=0.6)
    assert held.u_kg == pytest.approx(0.016 * held.mass_kg)


def test_a_hose_of_vapour_holds_a_gram() -> None:
    """0.9 g of R-134a at 5.7 bar, its saturation pressure at 20 °C."""
    held = vapour_hold_up(SERVICE, facade.get("R-134a"), 293.15, 5.7e5)
    assert held is not None
    assert held.mass_kg * 1e3 == pytest.approx(0.9, abs=0.05)


def test_an_unknown_pressure_is_anything_up_to_saturation(toy: ToyFluid) -> None:
    held = vapour_hold_up(SERVICE, toy, 293.15, None)
    most = bore_volume_m3(SERVICE) * 25.0
    assert held is not None
    assert held.mass_kg == pytest.approx(most / 2.0)
    assert held.u_kg == pytest.approx(most / math.sqrt(12.0))


def test_an_unknown_temperature_is_unknown(toy: ToyFluid) -> None:
    assert liquid_hold_up(SERVICE, toy, None) is None
    assert vapour_hold_up(SERVICE, toy, None, 5e5) is None


def test_a_hose_of_no_length_holds_nothing(toy: ToyFluid) -> None:
    for draw in ("vapour", "liquid"):
        content = HoseContent(Hose(0.0, 4.8e-3), toy).turned(Feed.FED, _around(), 0.0, draw)
        assert content.now(_around(), 1.0) == NOTHING


def test_r_744_above_its_critical_temperature_is_in_doubt_and_not_nothing() -> None:
    """31 °C is critical (Span and Wagner 1996); a hose at 40 °C holds something between nothing and liquid."""
    fluid = facade.get("R-744")
    content = HoseContent(SERVICE, fluid).turned(Feed.FED, _around(313.15), 0.0, "liquid")
    held = content.now(_around(313.15), 1.0)
    assert 5e-3 < held.mass_kg < 25e-3
    assert held.u_kg > 4e-3


def test_an_evacuated_hose_is_empty(toy: ToyFluid) -> None:
    assert HoseContent(SERVICE, toy).now(_around(), 1e9) == NOTHING


def test_shut_at_both_ends_it_keeps_what_it_has(toy: ToyFluid) -> None:
    fed = HoseContent(SERVICE, toy).turned(Feed.FED, _around(), 0.0, "liquid")
    shut = fed.turned(Feed.SHUT, _around(), 10.0, "liquid")
    assert shut.now(_around(), 1e6) == fed.now(_around(), 10.0)


def test_a_running_compressor_pulls_it_dry(toy: ToyFluid) -> None:
    around = _around(circuit=3e5, engine=True)
    pulled = (
        HoseContent(SERVICE, toy).turned(Feed.FED, around, 0.0, "liquid").turned(Feed.PULLED, around, 10.0, "liquid")
    )
    liquid, vapour = bore_volume_m3(SERVICE) * 1000.0, bore_volume_m3(SERVICE) * 25.0
    left = [pulled.now(around, 10.0 + since).mass_kg for since in (0.0, 3.0, 30.0, 300.0, 3000.0)]
    assert left == sorted(left, reverse=True)
    assert left[0] == pytest.approx(liquid, rel=0.02)
    assert left[-1] == pytest.approx(vapour)
    assert pulled.now(around, 3000.0).u_kg == pytest.approx(VAPOUR_SHARE_U * vapour, rel=0.1)


def test_vapour_pushes_out_what_has_condensed_in_the_hose(toy: ToyFluid) -> None:
    """10 g, and a port that lets 8 g/s through: 1/e is left after 1.3 s, nothing after 10 s, all of it before."""
    vapour = bore_volume_m3(SERVICE) * 25.0
    around = replace(_around(circuit=3e5, engine=True), flow_kg_s=2e-3)
    start = HoldUp(0.01 + vapour, 1e-3)
    fed = HoseContent(SERVICE, toy).turned(Feed.FED, around, 0.0, "vapour")
    opened = fed.opened(start, around, 5.0, whole=False)
    assert opened.now(around, 5.0).mass_kg == pytest.approx(start.mass_kg)
    assert opened.now(around, 100.0).mass_kg == pytest.approx(start.mass_kg)
    flows = replace(around, through_kg=0.05)
    assert opened.now(flows, 5.0 + 0.01 / SWEPT_KG_S).mass_kg == pytest.approx(0.01 * math.exp(-1.0) + vapour)
    assert opened.now(flows, 15.0).mass_kg == pytest.approx(vapour)
    assert opened.now(flows, 15.0).u_kg < 0.3e-3
    # 40 g of liquid before: some of it may cling to the wall.
    wet = fed.opened(HoldUp(0.04 + vapour, 1e-3), around, 5.0, whole=True).now(replace(around, through_kg=0.2), 60.0)
    assert wet.mass_kg == pytest.approx(vapour)
    assert wet.u_kg == pytest.approx(math.hypot(VAPOUR_SHARE_U * vapour, 0.015 * 0.04), rel=0.01)


def test_with_the_engine_standing_nobody_knows_how_much_stays(toy: ToyFluid) -> None:
    around = _around(circuit=3e5, engine=None)
    pulled = (
        HoseContent(SERVICE, toy).turned(Feed.FED, around, 0.0, "liquid").turned(Feed.PULLED, around, 10.0, "liquid")
    )
    liquid, vapour = bore_volume_m3(SERVICE) * 1000.0, bore_volume_m3(SERVICE) * 25.0
    held = pulled.now(around, 1000.0)
    assert held.mass_kg == pytest.approx((liquid + vapour) / 2.0)
    assert held.u_kg >= (liquid - vapour) / math.sqrt(12.0)


def test_a_clock_that_went_back_blows_up_nothing(toy: ToyFluid) -> None:
    around = _around(circuit=3e5, engine=True)
    pulled = HoseContent(SERVICE, toy, Feed.PULLED, since_s=1e6, held=HoldUp(0.03, 0.001))
    assert pulled.now(around, 0.0).mass_kg == pytest.approx(0.03, abs=1e-3)


def test_a_filling_that_the_scale_saw_whole_goes_before_the_model(toy: ToyFluid) -> None:
    fed = HoseContent(SERVICE, toy).turned(Feed.FED, _around(), 0.0, "liquid")
    seen = fed.opened(HoldUp(0.0345, 4e-4), _around(), 4.0, whole=True)
    assert seen.now(_around(), 5.0).mass_kg == pytest.approx(0.0345)
    assert fed.opened(HoldUp(0.0345, 4e-4), _around(), 4.0, whole=False).now(_around(), 5.0) == fed.now(_around(), 5.0)
    other = seen.turned(Feed.SHUT, _around(), 6.0, "vapour")
    assert other.measured is None


def test_a_filling_seen_in_a_cold_hose_thins_as_the_hose_warms() -> None:
    """40 g at 315 K in a wall of 65 J/mK * 1.8 m at 295 K: both come to 295 + 20 * 56 / 173 = 301.47 K."""
    fluid = facade.get("R-134a")
    around = replace(_around(295.0), container_k=315.0)
    fed = HoseContent(SERVICE, fluid).turned(Feed.FED, around, 0.0, "liquid")
    seen = fed.opened(HoldUp(0.04, 4e-4), around, 4.0, whole=True)
    warm = seen.filled(replace(around, through_kg=2.0))
    assert warm is not None
    density = fluid.saturated_liquid_density_kg_m3
    assert warm.mass_kg == pytest.approx(0.04 * density(315.0) / density(301.47), rel=1e-4)


@settings(deadline=None)  # the first property of a blend takes CoolProp a while
@given(
    temperature=st.floats(200.0, 420.0),
    circuit=st.none() | st.floats(0.0, 150e5),
    engine=st.none() | st.booleans(),
    draw=st.sampled_from(["vapour", "liquid"]),
    name=st.sampled_from(["R-134a", "R-744", "R-454C"]),
)
def test_whatever_is_read_the_content_is_a_number_and_its_doubt_is_not_negative(
    temperature: float, circuit: float | None, engine: bool | None, draw: str, name: str
) -> None:
    around = Conditions(temperature, circuit, circuit, engine)
    content = HoseContent(SERVICE, facade.get(name))
    for index, feed in enumerate((Feed.FED, Feed.SHUT, Feed.PULLED, Feed.FED, Feed.EMPTY)):
        content = content.turned(feed, around, float(index), draw)  # type: ignore[arg-type]  # sampled from the literals
        held = content.now(around, index + 0.5)
        assert math.isfinite(held.mass_kg)
        assert 0.0 <= held.mass_kg < 0.06
        assert 0.0 <= held.u_kg < 0.06
