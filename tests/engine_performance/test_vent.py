"""What the air allows, against marks of practice and against the physics of wet coils."""

from __future__ import annotations

import pytest

from fillmark.engine.performance.cycle import CycleInput
from fillmark.engine.performance.values import Probes
from fillmark.engine.performance.vent import STATIONARY_RULE, Expected, expected


def allowed(celsius: float, humidity: float | None) -> Expected:
    found = expected(CycleInput(ambient_k=celsius + 273.15, humidity=humidity), Probes())
    assert found is not None
    return found


@pytest.mark.parametrize("humidity", [0.3, 0.5, 0.6])
def test_at_67_fahrenheit_a_good_system_blows_about_40(humidity: float) -> None:
    # 67 °F = 19.44 °C, 40 °F = 4.44 °C: common practice, no source.
    assert allowed(19.44, humidity).vent.value - 273.15 == pytest.approx(4.44, abs=1.5)


def test_hotter_and_damper_air_comes_out_warmer() -> None:
    steps = [allowed(t, 0.5).vent.value for t in (20.0, 25.0, 30.0, 35.0, 40.0)]
    assert steps == sorted(steps)
    steps = [allowed(32.0, h).vent.value for h in (0.2, 0.4, 0.6, 0.8)]
    assert steps == sorted(steps)
    assert steps[-1] - steps[0] > 3.0


def test_damp_air_spends_the_cooling_on_water() -> None:
    assert allowed(32.0, 0.2).sensible_share > 0.8
    assert allowed(32.0, 0.7).sensible_share < 0.5


def test_never_below_freezing_and_never_above_the_entering_air() -> None:
    for celsius in (5.0, 15.0, 25.0, 35.0, 45.0):
        vent = allowed(celsius, 0.4).vent.value - 273.15
        assert 0.0 < vent <= celsius + 1e-9


def test_a_mild_day_asks_for_part_of_the_capacity_and_a_hot_one_for_all() -> None:
    assert allowed(19.44, 0.5).duty < 0.75
    assert allowed(36.0, 0.5).duty == pytest.approx(1.0, abs=1e-6)


def test_unknown_humidity_widens_the_answer_and_is_said() -> None:
    known, unknown = allowed(34.0, 0.5), allowed(34.0, None)
    assert unknown.vent.u > known.vent.u + 0.5
    assert not unknown.humidity_known
    assert unknown.dew_point_k is None
    assert known.dew_point_k is not None


def test_unknown_or_impossible_air_is_unknown() -> None:
    assert expected(CycleInput(), Probes()) is None
    assert expected(CycleInput(ambient_k=700.0, humidity=0.5), Probes()) is None


def test_a_rooms_circuit_needs_the_rooms_air() -> None:
    outside = CycleInput(ambient_k=308.15, humidity=0.4)
    assert expected(outside, Probes(), STATIONARY_RULE) is None
    room = CycleInput(ambient_k=308.15, intake_k=298.15, intake_humidity=0.5)
    found = expected(room, Probes(), STATIONARY_RULE)
    assert found is not None
    # A room unit takes 8 to 15 K out of the air: common practice, no source.
    assert 8.0 < 298.15 - found.vent.value < 15.0
