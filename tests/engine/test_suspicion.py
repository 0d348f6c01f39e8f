"""What a line of suspects can be, by hand: a scale of 1 g, a container of 1 kg that gave 2 g/s until 10 s."""

from __future__ import annotations

import math

import pytest

from fillmark.engine.weighing.estimate import Estimate
from fillmark.engine.weighing.line import Line, Points
from fillmark.engine.weighing.suspicion import (
    continues,
    falls_like,
    falls_on,
    freed,
    hidden_u_kg,
    line_of,
    nil,
    rises,
    rose,
    uncovers,
)

STEP = 1e-3
FASTEST = 40e-3
WAS = Estimate(10.0, 1.0, 2e-3, 1e-8)


def points(first_s: float, mass_kg: float, flow_kg_s: float) -> Points:
    return tuple((first_s + 0.5 * n, mass_kg - flow_kg_s * 0.5 * n) for n in range(6))


def line(first_s: float, mass_kg: float, flow_kg_s: float) -> Line:
    return Line.through(points(first_s, mass_kg, flow_kg_s))


@pytest.mark.parametrize(
    ("mass_kg", "flow_kg_s", "can"),
    [
        (0.999, 2e-3, True),  # the same flow
        (0.995, 8e-3, True),  # four times as fast since some time in the half second before
        (1.000, 0.0, True),  # it has stopped
        (0.980, 2e-3, False),  # 19 g are gone at once
        (1.015, 2e-3, False),  # 16 g have come
        (0.999, -3e-3, False),  # a container does not fill
        (0.999, 50e-3, False),  # nor give more than the hose lets through
    ],
)
def test_what_a_change_of_flow_can_do(mass_kg: float, flow_kg_s: float, can: bool) -> None:
    assert continues(line(10.5, mass_kg, flow_kg_s), WAS, 10.5, (0.0, FASTEST), STEP) is can


def test_a_container_at_rest_begins_to_fall() -> None:
    rest = Estimate(10.0, 1.0, 0.0, 1e-8)
    assert falls_on(line(12.0, 0.996, 2e-3), rest, 12.0, FASTEST, STEP)
    assert not falls_on(line(12.0, 0.95, 2e-3), rest, 12.0, FASTEST, STEP)
    assert not falls_on(line(12.0, 1.02, 2e-3), rest, 12.0, FASTEST, STEP)


def test_what_is_on_its_way_up_is_no_container_that_draws_a_little_back() -> None:
    assert not rises(line(10.5, 0.999, -0.9e-3))
    assert rises(line(10.5, 0.999, -1.1e-3))


def test_an_offset_that_has_gone_uncovers_the_mass() -> None:
    ahead = Estimate(13.0, 0.994, 2e-3, 1e-8)
    assert uncovers(line(10.5, 0.999, 2e-3), ahead, STEP)
    assert not uncovers(line(10.5, 0.989, 2e-3), ahead, STEP)


def test_a_line_falls_like_a_flow_once_the_scale_has_settled() -> None:
    falls = line(12.0, 0.9, 2.2e-3)
    assert falls_like(falls, 2e-3, 11.5, STEP)
    assert not falls_like(falls, 2e-3, 12.5, STEP)
    assert not falls_like(falls, 5e-3, 11.5, STEP)


def test_readings_of_the_settled_scale_are_preferred() -> None:
    on_its_way = ((10.0, 1.3), (10.5, 1.299))
    found = line_of((*on_its_way, *points(11.0, 1.05, 2e-3)), 11.0, STEP)
    assert found is not None
    assert found.begins_s == 11.0
    assert line_of(on_its_way, 10.0, STEP) is None


def test_what_pulled_has_let_go() -> None:
    assert nil(0.002, 0.0, 0.0, STEP)
    assert not nil(0.004, 0.0, 0.0, STEP)
    assert nil(0.009, 0.0, 0.030, STEP)  # 30 g pulled, and it comes back to 9 g: within 40 % of its pull and 10 g
    assert not nil(0.013, 0.0, 0.040, STEP)
    assert not nil(0.009, 0.0, 0.300, STEP)  # no hose pulls so much: a tool does not come back beside itself


def test_shaking_hides_only_what_is_as_small_as_itself() -> None:
    """A tool of 390 g that is taken off a shaking bench is gone; a pull of 12 g may be there still."""
    assert hidden_u_kg(0.39, 1e-3, 3e-3) == 0.0
    assert hidden_u_kg(-0.01, 1e-3, 3e-3) == pytest.approx(0.01 / math.sqrt(3.0))


@pytest.mark.parametrize(
    ("indications_kg", "leans"),
    [
        ((0.998, 1.001, 1.001, 0.999), True),  # two in a row, 3 g above one before
        ((0.998, 1.001, 0.998, 1.001), False),  # the last digits flicker
        ((1.002, 1.001, 0.999, 0.997), False),  # it only falls
        ((0.999, 1.000, 1.000, 1.001), False),  # a flow has stopped: half of the scale's flicker
        ((1.004, 1.004), True),  # both 4 g above what was shown
        ((1.002, 1.002), False),  # what the gate hides anyway
        ((0.998,), False),
    ],
)
def test_a_container_that_can_only_lose_does_not_grow_heavier(indications_kg: tuple[float, ...], leans: bool) -> None:
    assert rose(tuple((10.0 + n, kg) for n, kg in enumerate(indications_kg)), WAS, STEP) is leans


@pytest.mark.parametrize(
    ("innovation_kg", "gone"), [(-0.018, True), (-0.012, True), (-0.008, False), (0.018, False), (-0.002, False)]
)
def test_a_loss_of_as_much_as_leant_on_the_pan_is_rather_its_end(innovation_kg: float, gone: bool) -> None:
    assert freed(innovation_kg, 0.020, STEP) is gone
