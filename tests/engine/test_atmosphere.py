"""Atmospheric pressure: the values of ISO 2533:1975, as printed and as computed."""

from __future__ import annotations

import pytest

from fillmark.engine.atmosphere import barometer, standard_pressure_pa


@pytest.mark.parametrize(
    ("altitude_m", "pressure_pa"),
    # Standard atmosphere at geopotential altitude; ISO 2533 equals the US Standard Atmosphere 1976 here.
    [(0.0, 101325.0), (1000.0, 89874.6), (1500.0, 84556.0), (2000.0, 79495.2)],
)
def test_standard_atmosphere_at_geopotential_altitude(altitude_m: float, pressure_pa: float) -> None:
    assert standard_pressure_pa(altitude_m) == pytest.approx(pressure_pa, abs=0.1)


@pytest.mark.parametrize(
    ("altitude_m", "pressure_pa"),
    # psychrolib's tests: 500 m 95461, 1000 m 89875, 4000 m 61640 Pa. Nelson and Sauer 2002, table 7: 1500 m 84556 Pa.
    [(500.0, 95461.0), (1000.0, 89875.0), (1500.0, 84556.0), (4000.0, 61640.0)],
)
def test_values_of_other_sources(altitude_m: float, pressure_pa: float) -> None:
    assert standard_pressure_pa(altitude_m) == pytest.approx(pressure_pa, abs=1.0)


def test_printed_tables_of_geometric_altitude_differ_by_less_than_any_gauge_can_show() -> None:
    assert standard_pressure_pa(2000.0) == pytest.approx(79501.4, abs=7.0)


def test_beyond_its_range_it_stays_at_its_ends() -> None:
    assert standard_pressure_pa(1e6) == standard_pressure_pa(11000.0)
    assert standard_pressure_pa(-1e6) == standard_pressure_pa(-2000.0)


def test_what_was_measured_goes_before_what_was_declared_and_that_before_the_altitude() -> None:
    assert barometer(99e3, 98e3, 500.0).pressure_pa == 99e3
    assert barometer(None, 98e3, 500.0).pressure_pa == 98e3
    assert barometer(None, None, 500.0).pressure_pa == pytest.approx(95461.0, abs=1.0)
    assert barometer(None, None, None).pressure_pa == 101325.0


def test_an_estimate_says_that_it_is_one() -> None:
    assert not barometer(99e3, None, None).estimated
    assert not barometer(None, 98e3, None).estimated
    assert barometer(None, None, 500.0).estimated
    assert barometer(None, None, None).estimated
