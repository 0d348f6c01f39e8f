"""Geometry of figures: round ticks that hold the data, curves inside their box, peaks kept."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from fillmark.report.figures import MOST_POINTS, thinned
from fillmark.report.plot import Box, Chart, Line, Series, chart_of, draw, ticks

values = st.floats(-1e6, 1e6, allow_nan=False)


@given(values, values)
def test_ticks_are_round_and_inside(one: float, other: float) -> None:
    low, high = min(one, other), max(one, other)
    assume(high - low > 1e-3)
    found = ticks(low, high)
    slack = (high - low) * 1e-8
    assert all(low - slack <= value <= high + slack for value in found)
    steps = {f"{right - left:.3e}"[0] for left, right in itertools.pairwise(found)}
    assert len(steps) <= 1
    assert steps <= {"1", "2", "5"}


@given(st.lists(st.tuples(st.floats(0.0, 1e4), values), min_size=2, max_size=900))
def test_a_thinned_curve_keeps_its_peaks_and_its_order(points: list[tuple[float, float]]) -> None:
    points.sort()
    kept = thinned(points)
    assert len(kept) <= MOST_POINTS
    assert kept == sorted(kept)
    assert {min(y for _, y in kept), max(y for _, y in kept)} == {min(y for _, y in points), max(y for _, y in points)}
    assert set(kept) <= set(points)


@pytest.mark.parametrize("log", [False, True])
@given(
    points=st.lists(st.tuples(st.floats(0.0, 1e4), st.floats(1e-3, 1e6)), min_size=2, max_size=50),
    window=st.none() | st.just((400.0, 500.0)),
)
def test_curves_stay_in_their_box(
    log: bool, points: list[tuple[float, float]], window: tuple[float, float] | None
) -> None:
    points.sort()
    chart = Chart("x", "s", "g", (Series("a", tuple(points), 0),), None if log else window, log=log)
    for shape in draw(chart, 600.0, 200.0, 10.0):
        if isinstance(shape, Line):
            assert all(-0.1 <= x <= 600.1 and -0.1 <= y <= 200.1 for x, y in shape.points)
        elif isinstance(shape, Box):
            assert shape.left >= 0.0 <= shape.top <= shape.top + shape.height <= 200.0


def test_units_are_those_of_people() -> None:
    series = [{"channel": "low/pressure", "t_s": [0.0, 600.0], "value": [1e5, 3.5e5]}]
    chart = chart_of({"title": "x", "quantity": "pressure", "log": False, "series": series})
    assert chart.y_label == "bar absolute"
    assert chart.series[0].points[1] == pytest.approx((10.0, 3.5))
    assert chart.series[0].name == "low side"
    assert "from 1 to 3.5" in chart.in_words
