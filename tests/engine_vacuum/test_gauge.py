from __future__ import annotations

import math
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.engine.atmosphere import Barometer, standard_pressure_pa
from fillmark.engine.vacuum.gauge import (
    INHG_PA,
    DeeperThanAtmosphereError,
    Gauge,
    absolute_pa,
    expected_indication_pa,
    stuck_share,
    white_variance_pa2,
)

NEEDLE = Gauge(INHG_PA, "compound")


def at(altitude_m: float) -> Barometer:
    return Barometer(standard_pressure_pa(altitude_m), "measured")


def test_a_deep_vacuum_at_sea_level_reads_about_30_inches() -> None:
    # Common practice, no source.
    assert absolute_pa(-29.9 * INHG_PA, at(0.0), INHG_PA) == pytest.approx(0.0, abs=100.0)
    # A needle's inch is no deep vacuum: GUM F.2.2.1, 3386 Pa / sqrt(12) = 977 Pa.
    assert NEEDLE.reading_u_pa > 900.0


def test_28_inches_are_refused_where_the_air_does_not_hold_them() -> None:
    # Standard atmosphere (ISO 2533): 26.54 inHg at 1000 m, so 28 inHg cannot be; 28.19 inHg at 500 m.
    with pytest.raises(DeeperThanAtmosphereError, match=r"28\.0 inHg of vacuum.* holds only 26\.5 inHg"):
        absolute_pa(-28.0 * INHG_PA, at(1000.0), 0.1 * INHG_PA)
    assert absolute_pa(-28.0 * INHG_PA, at(500.0), 0.1 * INHG_PA) == pytest.approx(0.19 * INHG_PA, abs=60.0)


def test_half_a_division_is_granted_and_no_more() -> None:
    assert absolute_pa(-27.0 * INHG_PA, at(1000.0), INHG_PA) == 0.0
    with pytest.raises(DeeperThanAtmosphereError, match="No pump can go deeper"):
        absolute_pa(-27.0 * INHG_PA, at(1000.0))


def test_an_assumed_atmosphere_grants_more_than_a_measured_one() -> None:
    guess = Barometer(101325.0, "sea level assumed")
    assert absolute_pa(-31.0 * INHG_PA, guess) == 0.0
    with pytest.raises(DeeperThanAtmosphereError):
        absolute_pa(-31.0 * INHG_PA, at(0.0))


@pytest.mark.parametrize("size", [0.0, -1.0, math.nan, math.inf])
def test_a_gauge_without_steps_is_refused(size: float) -> None:
    with pytest.raises(ValueError, match="smallest step"):
        Gauge(size)


@given(st.floats(0.0, 50.0), st.floats(0.02, 1.5))
def test_mean_indication_lies_within_half_a_step(pressure: float, share: float) -> None:
    assert abs(expected_indication_pa(pressure, 1.0, share) - pressure) <= 0.5 + 1e-9


@pytest.mark.parametrize(("pressure", "share"), [(7.3, 0.1), (7.45, 0.2), (0.2, 0.5), (7.0, 0.4)])
def test_mean_indication_is_that_of_many_readings(pressure: float, share: float) -> None:
    rng = random.Random(7)
    shown = [max(round(pressure + rng.gauss(0.0, share)), 0) for _ in range(40_000)]
    expected = expected_indication_pa(pressure, 1.0, share, least_pa=0.0)
    assert sum(shown) / len(shown) == pytest.approx(expected, abs=0.015)


def test_noise_of_half_a_step_dithers_the_rounding_away() -> None:
    assert stuck_share(0.0) == 1.0
    assert stuck_share(0.5) < 0.01
    assert white_variance_pa2(10.0, 0.0) == pytest.approx(0.0, abs=1e-9)
    assert white_variance_pa2(10.0, 6.0) == pytest.approx(36.0 + 100.0 / 12.0, rel=1e-3)  # Sheppard's correction
