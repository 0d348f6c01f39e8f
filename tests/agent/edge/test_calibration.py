"""Zero and span against a fit by other code, and what makes no calibration."""

from __future__ import annotations

import datetime as dt
import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark_agent.edge.calibration import CalibrationError, CalibrationTable, Point, calibrate

DAY = dt.date(2026, 3, 14)


@given(zero=st.floats(-0.5, 0.5), span=st.floats(0.6, 1.9), low=st.floats(-1.0, 1.0), apart=st.floats(1.0, 100.0))
def test_two_points_give_the_line_that_numpys_fit_gives(zero: float, span: float, low: float, apart: float) -> None:
    references = (low, low + apart)
    shown = [reference / span + zero for reference in references]
    made = calibrate([Point(r, 0.0, [s]) for r, s in zip(references, shown, strict=True)], DAY)
    slope, offset = np.polyfit(shown, references, 1)
    for raw in (*shown, 0.0, 7.0):
        assert made.corrected(raw) == pytest.approx(slope * raw + offset, rel=1e-6, abs=1e-6)


def test_one_point_moves_the_zero_only() -> None:
    made = calibrate([Point(0.0, 0.0, [0.002, 0.002, 0.002])], DAY, "nothing on the pan")
    assert made.zero == pytest.approx(0.002)
    assert (made.span, made.uncertainty) == (1.0, 0.0)
    assert made.corrected(1.002) == pytest.approx(1.0)
    assert (made.date, made.reference) == (DAY, "nothing on the pan")


def test_the_uncertainty_holds_reference_scatter_and_steps() -> None:
    # JCGM 100:2008, 4.2.3 (scatter of the mean) and 4.3.7 (a step is a rectangle of half-width step/2).
    made = calibrate([Point(2.0, 0.0003, [1.999, 2.000, 2.001, 2.000])], DAY)
    scatter = np.std([1.999, 2.000, 2.001, 2.000], ddof=1) / 2.0
    expected = math.sqrt(0.0003**2 + scatter**2 + 0.001**2 / 12.0)
    assert expected <= made.uncertainty <= expected * 1.06


@pytest.mark.parametrize(
    ("points", "says"),
    [
        ([], "one or two points"),
        ([Point(0.0, 0.0, [])], "one or two points"),
        ([Point(1.0, 0.0, [1.0]), Point(2.0, 0.0, [1.0])], "too close"),
        ([Point(1.0, 0.0, [2.0]), Point(2.0, 0.0, [1.0])], "too close"),
        ([Point(0.0, 0.1, [0.0]), Point(1.0, 0.1, [1.0])], "too close"),
        ([Point(0.0, 0.0, [0.0]), Point(1.0, 0.0, [0.45359237])], "wrong unit"),
    ],
)
def test_comparisons_that_give_no_calibration(points: list[Point], says: str) -> None:
    with pytest.raises(CalibrationError, match=says):
        calibrate(points, DAY)


def test_the_table_survives_being_written_down() -> None:
    made = calibrate([Point(0.0, 0.001, [0.01]), Point(10.0, 0.001, [10.02])], DAY)
    assert CalibrationTable.model_validate(made.model_dump(mode="json")) == made
