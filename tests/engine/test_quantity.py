"""How a number and its doubt are said."""

from __future__ import annotations

import pytest

from fillmark.engine.quantity import Quantity, plus_minus, pressure_text


@pytest.mark.parametrize(
    ("value", "expanded", "text"),
    [
        # GUM 7.2.6: an uncertainty has at most two digits, and the value ends at the same place.
        (10.05762, 0.054, "10.058 ± 0.054"),
        (-238.4, 912.0, "-238 ± 912"),
        (0.399, 1.1, "0.4 ± 1.1"),
        (42.0, 0.0, "42"),
    ],
)
def test_the_value_ends_where_its_doubt_does(value: float, expanded: float, text: str) -> None:
    assert plus_minus(value, expanded) == text


@pytest.mark.parametrize(
    ("value", "u", "text"),
    [(13220.0, 1250.0, "13.2 ± 2.5 kPa"), (0.0, 1600.0, "0.0 ± 3.2 kPa"), (361.0, 5.5, "361 ± 11 Pa")],
)
def test_large_pressures_are_said_in_kilopascals(value: float, u: float, text: str) -> None:
    assert pressure_text(Quantity(value, u)) == text
