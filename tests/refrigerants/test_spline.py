from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.refrigerants.spline import CubicSpline

coefficient = st.floats(-10.0, 10.0)


@given(coefficient, coefficient, coefficient, coefficient)
def test_a_cubic_is_reproduced(a: float, b: float, c: float, d: float) -> None:
    # A cubic spline whose end slopes are exact is the cubic itself.
    def cubic(x: float) -> float:
        return a + x * (b + x * (c + x * d))

    nodes = [-1.0, -0.7, 0.1, 0.2, 1.3, 2.0]
    spline = CubicSpline(nodes, [cubic(x) for x in nodes])
    for x in (-1.0, -0.9, 0.0, 0.15, 1.0, 1.99, 2.0):
        assert spline(x) == pytest.approx(cubic(x), abs=1e-9)


def test_the_error_falls_with_the_fourth_power_of_the_step() -> None:
    # De Boor, A Practical Guide to Splines, chapter V (from memory): complete cubic splines are of fourth order.
    def error(count: int) -> float:
        nodes = [3.0 * i / count for i in range(count + 1)]
        spline = CubicSpline(nodes, [math.sin(x) for x in nodes])
        return max(abs(spline(3.0 * i / 997) - math.sin(3.0 * i / 997)) for i in range(998))

    assert error(20) / error(40) > 12.0


def test_nodes_are_met() -> None:
    xs, ys = [0.0, 1.0, 3.0, 4.0, 7.0], [2.0, -1.0, 5.0, 0.0, 1.0]
    assert [CubicSpline(xs, ys)(x) for x in xs] == pytest.approx(ys)


@pytest.mark.parametrize(
    ("xs", "ys"),
    [
        ([0.0, 1.0, 2.0], [0.0, 1.0, 2.0]),
        ([0.0, 1.0, 2.0, 3.0], [0.0, 1.0, 2.0]),
        ([0.0, 1.0, 1.0, 3.0], [0.0, 1.0, 2.0, 3.0]),
        ([0.0, 2.0, 1.0, 3.0], [0.0, 1.0, 2.0, 3.0]),
        ([0.0, math.nan, 1.0, 3.0], [0.0, 1.0, 2.0, 3.0]),
    ],
)
def test_nodes_that_make_no_spline_are_refused(xs: list[float], ys: list[float]) -> None:
    with pytest.raises(ValueError, match="spline"):
        CubicSpline(xs, ys)
