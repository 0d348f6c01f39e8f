"""The picture: both ways of charging, the same bytes each time."""

from __future__ import annotations

from pathlib import Path

from fillmark_sim.campaign import Outcome
from fillmark_sim.campaign.picture import draw, shares


def test_the_picture_shows_both_ways_of_charging(one: Outcome, tmp_path: Path) -> None:
    assert shares([0.002, -0.001, 0.0]) == ([0.5, 1.0, 2.0], [1 / 3, 2 / 3, 1.0])
    draw([one, one], "a weigher", tmp_path / "a.svg")
    drawn = (tmp_path / "a.svg").read_text(encoding="utf-8")
    assert "with a weigher" in drawn
    assert "by hand" in drawn
    draw([one, one], "a weigher", tmp_path / "b.svg")
    assert drawn == (tmp_path / "b.svg").read_text(encoding="utf-8")
