"""Moist air against the ASHRAE handbook as its published checks print it, psychrolib's numbers, and CoolProp."""

from __future__ import annotations

import pytest
from CoolProp import HumidAirProp
from hypothesis import given
from hypothesis import strategies as st

from fillmark.engine.performance import psychrometrics as air

SEA_LEVEL_PA = 101325.0


@pytest.mark.parametrize(
    ("celsius", "pascal"),
    # ASHRAE Handbook—Fundamentals (2017), chapter 1, table 3, as psychrolib's test suite prints it.
    [(-60.0, 1.08), (-20.0, 103.24), (-5.0, 401.74), (5.0, 872.6), (25.0, 3169.7), (50.0, 12351.3),
     (100.0, 101418.0), (150.0, 476101.4)],
)  # fmt: skip
def test_saturation_pressure_is_the_handbooks(celsius: float, pascal: float) -> None:
    assert air.saturation_pressure_pa(celsius + 273.15) == pytest.approx(pascal, rel=3e-4, abs=0.01)


@pytest.mark.parametrize(("celsius", "ratio"), [(5.0, 0.005425), (25.0, 0.020173), (50.0, 0.086863)])
def test_saturated_humidity_ratio_is_the_handbooks_without_its_enhancement_factor(celsius: float, ratio: float) -> None:
    # ASHRAE Handbook—Fundamentals (2017), chapter 1, table 2. An ideal mixture lies 0.4 to 0.7 % below.
    mine = air.humidity_ratio(celsius + 273.15, 1.0, SEA_LEVEL_PA)
    assert 0.993 < mine / ratio < 0.997


def test_handbook_example_1() -> None:
    # ASHRAE Handbook—Fundamentals (2017), chapter 1, example 1: 40 °C dry bulb, 20 °C wet bulb, 101.325 kPa
    # -> W 0.0065, dew point about 7 °C, RH 0.14, h 56.7 kJ/kg; psychrolib prints 0.00640, 7.43 °C, 0.1398, 56.72.
    dry_k = 313.15
    ratio = air.humidity_ratio(dry_k, 0.1398, SEA_LEVEL_PA)
    assert air.wet_bulb_k(dry_k, ratio, SEA_LEVEL_PA) - 273.15 == pytest.approx(20.0, abs=0.01)
    assert ratio == pytest.approx(0.00640, abs=5e-6)
    assert air.enthalpy_j_kg(dry_k, ratio) == pytest.approx(56.72e3, abs=20.0)
    dew = air.dew_point_k(ratio, SEA_LEVEL_PA)
    assert dew is not None
    assert dew - 273.15 == pytest.approx(7.43, abs=0.01)


@pytest.mark.parametrize("celsius", [5.0, 20.0, 30.0, 38.0])
@pytest.mark.parametrize("humidity", [0.2, 0.5, 0.9])
@pytest.mark.parametrize("pressure", [84556.0, SEA_LEVEL_PA])
def test_agrees_with_coolprops_real_gas(celsius: float, humidity: float, pressure: float) -> None:
    # CoolProp's humid air (ASHRAE RP-1485) has the enhancement factor: 0.7 % in W at most, so 0.15 K in dew point.
    kelvin = celsius + 273.15
    state = ("T", kelvin, "P", pressure, "R", humidity)
    ratio = air.humidity_ratio(kelvin, humidity, pressure)
    assert ratio == pytest.approx(HumidAirProp.HAPropsSI("W", *state), rel=7e-3)
    assert air.wet_bulb_k(kelvin, ratio, pressure) == pytest.approx(HumidAirProp.HAPropsSI("B", *state), abs=0.15)
    dew = air.dew_point_k(ratio, pressure)
    assert dew == pytest.approx(HumidAirProp.HAPropsSI("D", *state), abs=0.05)


def test_cooling_to_saturation_takes_what_coolprop_says() -> None:
    # Enthalpy differences only, because zero points differ: 30 °C 60 % to 10 °C saturated.
    before = ("T", 303.15, "P", SEA_LEVEL_PA, "R", 0.6)
    after = ("T", 283.15, "P", SEA_LEVEL_PA, "R", 1.0)
    wanted = HumidAirProp.HAPropsSI("H", *before) - HumidAirProp.HAPropsSI("H", *after)
    entering = air.humidity_ratio(303.15, 0.6, SEA_LEVEL_PA)
    leaving = air.humidity_ratio(283.15, 1.0, SEA_LEVEL_PA)
    taken = air.load(303.15, entering, 283.15, leaving)
    assert taken.total_j_kg == pytest.approx(wanted, rel=7e-3)
    assert taken.sensible_j_kg + taken.latent_j_kg == pytest.approx(taken.total_j_kg)
    # The water that runs off leaves about its heat of vaporisation behind: 2.5 MJ/kg (steam tables).
    assert taken.latent_j_kg / taken.water == pytest.approx(2.54e6, rel=0.02)


@given(st.floats(263.15, 318.15), st.floats(0.02, 1.0), st.floats(70e3, 105e3))
def test_dew_point_below_wet_bulb_below_dry_bulb(kelvin: float, humidity: float, pressure: float) -> None:
    ratio = air.humidity_ratio(kelvin, humidity, pressure)
    dew, wet = air.dew_point_k(ratio, pressure), air.wet_bulb_k(kelvin, ratio, pressure)
    assert dew is not None
    assert dew <= wet + 1e-3 <= kelvin + 2e-3
    assert air.humidity_ratio(dew, 1.0, pressure) == pytest.approx(ratio, rel=1e-6)


@pytest.mark.parametrize(
    ("kelvin", "humidity", "pressure"),
    [(150.0, 0.5, SEA_LEVEL_PA), (500.0, 0.5, SEA_LEVEL_PA), (300.0, -0.1, SEA_LEVEL_PA), (300.0, 1.1, SEA_LEVEL_PA),
     (373.15, 1.0, 90e3)],
)  # fmt: skip
def test_air_that_cannot_be_is_refused(kelvin: float, humidity: float, pressure: float) -> None:
    with pytest.raises(air.AirError):
        air.humidity_ratio(kelvin, humidity, pressure)


def test_dry_air_has_no_dew_point() -> None:
    assert air.dew_point_k(0.0, SEA_LEVEL_PA) is None
