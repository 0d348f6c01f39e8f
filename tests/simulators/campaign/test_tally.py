"""The tables: numbers are counted as they are named."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from fillmark_sim.campaign import Outcome
from fillmark_sim.campaign.tally import as_markdown, methods_as_markdown, misses, quantile, rms, share


def cells(line: str) -> list[str]:
    return [cell.strip() for cell in line.strip("|").split("|")]


def test_the_quantile_is_the_inverse_of_the_empirical_distribution() -> None:
    """Definition 1 of Hyndman and Fan, The American Statistician 50 (1996) 361 (from memory)."""
    values = [float(number) for number in range(1, 21)]
    assert [quantile(values, part) for part in (0.05, 0.5, 0.95, 0.951, 1.0)] == [1.0, 10.0, 19.0, 20.0, 20.0]
    assert math.isnan(quantile([], 0.5))


def test_shares_and_root_mean_square_by_hand() -> None:
    assert share([True, False, True, True]) == 0.75
    assert rms([3.0, -4.0]) == pytest.approx(math.sqrt(12.5))
    assert math.isnan(share([]))
    assert math.isnan(rms([]))


def test_a_row_says_what_was_counted(one: Outcome) -> None:
    far = replace(one, seed=2, error_kg=-0.009, landing_kg=-0.02, false_call=True, hand_error_kg=None, calls=2)
    unheard = replace(one, seed=3, disturbance="bump", calls=0, landing_kg=0.03)
    head, _, clean, bump, _ = as_markdown([one, far, unheard])
    row = dict(zip(cells(head), cells(clean), strict=True))
    assert (row["n"], row["error median"], row["95 %"], row["max"]) == ("2", "1.0", "9.0", "9.0")
    assert (row["covered"], row["covered live"], row["u mean"]) == ("50.0%", "50.0%", "1.0")
    assert (row["overshoot 95 %"], row["landing 95 %"]) == ("2.0", "20.0")
    assert (row["false calls"], row["missed"], row["called again"], row["by hand 95 %"]) == ("50.0%", "0", "1", "30.0")
    assert dict(zip(cells(head), cells(bump), strict=True))["missed"] == "1"
    text = "\n".join(misses([one, far, unheard]))
    assert "* clean, not covered: 1 (seeds 2)" in text
    assert "* bump, missed call: 1 (seeds 3)" in text


def test_methods_stand_beside_the_weigher(one: Outcome) -> None:
    head, _, row = methods_as_markdown([one], "weigher", ["other"])
    assert cells(head) == ["class", "weigher", "other"]
    assert cells(row) == ["clean", "2.8 / 4.0 / 0.5", "3.5 / 4.0 / 4.0"]
