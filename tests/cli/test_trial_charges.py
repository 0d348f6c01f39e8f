"""`fillmark trial charges`: the same seed gives the same table, and its numbers are counted as they are named."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import typer

from fillmark.cli.charge_plot import plot, shares
from fillmark.cli.charge_run import Live, Outcome
from fillmark.cli.charge_tally import as_markdown, methods_as_markdown, misses, quantile, rms, share
from fillmark.cli.trial_charges import draw, load_methods, run_task, tasks
from fillmark.wire import extras

Run = Callable[..., Any]
ONE = Outcome(
    "clean", 1, 0.001, 0.001, 0.002, 0.0005, (0.004,), 0.03, calls=1, reached=True, false_call=False,
    live=(Live(0.001, 0.001, 0.0, (0.003,)), Live(0.003, 0.001, 0.004, (0.004,))),
)  # fmt: skip


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


def test_a_row_says_what_was_counted() -> None:
    far = replace(ONE, seed=2, error_kg=-0.009, landing_kg=-0.02, false_call=True, hand_error_kg=None, calls=2)
    unheard = replace(ONE, seed=3, disturbance="bump", calls=0, landing_kg=0.03)
    head, _, clean, bump, _ = as_markdown([ONE, far, unheard])
    row = dict(zip(cells(head), cells(clean), strict=True))
    assert (row["n"], row["error median"], row["95 %"], row["max"]) == ("2", "1.0", "9.0", "9.0")
    assert (row["covered"], row["covered live"], row["u mean"]) == ("50.0%", "50.0%", "1.0")
    assert (row["overshoot 95 %"], row["landing 95 %"]) == ("2.0", "20.0")
    assert (row["false calls"], row["missed"], row["called again"], row["by hand 95 %"]) == ("50.0%", "0", "1", "30.0")
    assert dict(zip(cells(head), cells(bump), strict=True))["missed"] == "1"
    text = "\n".join(misses([ONE, far, unheard]))
    assert "* clean, not covered: 1 (seeds 2)" in text
    assert "* bump, missed call: 1 (seeds 3)" in text


def test_methods_stand_beside_fillmark() -> None:
    head, _, row = methods_as_markdown([ONE], ["other"])
    assert cells(head) == ["class", "Fillmark", "other"]
    assert cells(row) == ["clean", "2.8 / 4.0 / 0.5", "3.5 / 4.0 / 4.0"]


def test_a_seed_is_a_charge_whatever_the_count() -> None:
    few, many = tasks(12, 3, 1e-3), tasks(40, 3, 1e-3)
    assert many[:12] == few
    assert len({(name, seed) for name, seed, *_ in many}) == 40
    assert {name for name, *_ in few} == {name for name, *_ in many}


def test_a_clean_charge_lands_near_its_aim() -> None:
    first = run_task(("clean", 5, 1e-3, "", True))
    assert first == run_task(("clean", 5, 1e-3, "", True))
    assert abs(first.landing_kg) < 0.006
    assert abs(first.error_kg) < 0.006
    assert (first.calls, first.reached, first.false_call, first.missed_call) == (1, True, False, False)
    assert len(first.live) > 30


def test_the_command_prints_the_table(run: Run) -> None:
    outcome = run("trial", "charges", "--count", 1, "--seed", 2, "--only", "liquid", "--step", 5, "--jobs", 1)
    assert outcome.status == 0
    assert outcome.out.splitlines()[0].startswith("| class | n | error median |")
    assert "| liquid | 1 |" in outcome.out


def test_what_does_not_exist_is_refused_in_one_line(run: Run, tmp_path: Path) -> None:
    outcome = run("trial", "charges", "--only", "earthquake")
    assert outcome.status == 2
    assert "clean" in outcome.one_line
    outcome = run("trial", "charges", "--against", tmp_path / "none.py")
    assert outcome.status == 2
    empty = tmp_path / "empty.py"
    empty.write_text("", encoding="utf-8")
    assert "METHODS" in run("trial", "charges", "--against", empty).one_line
    assert load_methods("") == {}


def test_the_picture_shows_both_ways_of_charging(tmp_path: Path) -> None:
    assert shares([0.002, -0.001, 0.0]) == ([0.5, 1.0, 2.0], [1 / 3, 2 / 3, 1.0])
    plot([ONE, ONE], tmp_path / "a.svg")
    drawn = (tmp_path / "a.svg").read_text(encoding="utf-8")
    assert "with Fillmark" in drawn
    assert "by hand" in drawn
    plot([ONE, ONE], tmp_path / "b.svg")
    assert drawn == (tmp_path / "b.svg").read_text(encoding="utf-8")


def test_without_the_extra_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(extras, "PACKAGES", {"plots": ("fillmark_no_such_module", "matplotlib")})
    with pytest.raises(typer.Exit):
        draw([ONE], tmp_path / "a.svg")
