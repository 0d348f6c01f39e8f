"""`python -m fillmark_sim campaign`: the same seed gives the same table; what does not exist is refused."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fillmark.wire import extras
from fillmark_sim.campaign import Task, load_methods, tasks
from fillmark_sim.campaign.conditions import TABLES

Campaign = Callable[..., Any]


def test_a_seed_is_a_charge_whatever_the_count() -> None:
    classes = list(TABLES["disturbed"])
    few, many = (tasks(classes, count, 3, 1e-3, weigher="Fillmark") for count in (12, 40))
    assert many[:12] == few
    assert len({(one.disturbance, one.seed) for one in many}) == 40
    assert {one.disturbance for one in few} == set(classes)


def test_a_clean_charge_lands_near_its_aim() -> None:
    task = Task("clean", 5, 1e-3, "Fillmark")
    first = task.run()
    assert first == task.run()
    assert abs(first.landing_kg) < 0.006
    assert abs(first.error_kg) < 0.006
    assert (first.calls, first.reached, first.false_call, first.missed_call) == (1, True, False, False)
    assert len(first.live) > 30


def test_the_command_prints_the_table(campaign: Campaign) -> None:
    ended = campaign("--count", 1, "--seed", 2, "--only", "liquid", "--step", 5, "--jobs", 1)
    assert ended.status == 0
    assert ended.out.splitlines()[0].startswith("| class | n | error median |")
    assert "| liquid | 1 |" in ended.out


@pytest.mark.parametrize(
    ("arguments", "named"),
    [
        (("--only", "earthquake"), "clean"),
        (("--count", 0), "less than 1"),
        (("--step", "wide"), "--step"),
        (("--weigher", "nobody's"), "Fillmark"),
    ],
)
def test_what_does_not_exist_is_refused(campaign: Campaign, arguments: tuple[object, ...], named: str) -> None:
    ended = campaign(*arguments)
    assert (ended.status, ended.out) == (2, "")
    assert named in ended.err


def test_a_file_without_methods_is_refused_in_one_line(campaign: Campaign, tmp_path: Path) -> None:
    assert load_methods("") == {}
    empty = tmp_path / "empty.py"
    empty.write_text("", encoding="utf-8")
    for path, named in ((tmp_path / "none.py", "none.py"), (empty, "METHODS")):
        ended = campaign("--against", path)
        assert ended.status == 2
        (line,) = ended.err.splitlines()
        assert named in line


def test_without_the_extra_it_says_what_to_install(
    campaign: Campaign, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(extras, "PACKAGES", {"plots": ("fillmark_no_such_module", "matplotlib")})
    ended = campaign("--count", 1, "--only", "liquid", "--jobs", 1, "--picture", tmp_path / "a.svg")
    assert ended.status == 2
    assert "pip install 'fillmark[plots]'" in ended.err
