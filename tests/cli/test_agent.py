"""`fillmark agent --check`: the configuration is right, or every mistake has its line."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]
GOOD = """\
[service]
url = "http://127.0.0.1:8000"

[[devices]]
driver = "simulated"
name = "bay"
scenario = "harvester-clean"
"""


@pytest.fixture
def config(tmp_path: Path) -> Path:
    path = tmp_path / "bay.toml"
    path.write_text(GOOD, encoding="utf-8")
    return path


def test_a_good_configuration_is_said_to_be_good(run: Run, config: Path) -> None:
    outcome = run("agent", "--check", "--config", config)
    assert outcome.status == 0
    assert outcome.one_line == f"{config}: good, 1 devices"
    assert list(config.parent.iterdir()) == [config]


@pytest.mark.parametrize(
    ("right", "wrong", "line"),
    [("simulated", "telepathic", 5), ("harvester-clean", "harvester-clea", 7), ("http:", "gopher:", 2)],
)
def test_each_mistake_is_named_with_file_and_line(run: Run, config: Path, right: str, wrong: str, line: int) -> None:
    config.write_text(GOOD.replace(right, wrong), encoding="utf-8")
    outcome = run("agent", "--check", "--config", config)
    assert (outcome.status, outcome.out) == (2, "")
    assert outcome.one_line.startswith(f"{config}:{line}: ")
    assert wrong in outcome.one_line


@pytest.mark.parametrize("path", ["nowhere.toml", "."])
def test_a_missing_configuration_is_named(run: Run, tmp_path: Path, path: str) -> None:
    outcome = run("agent", "--config", tmp_path / path)
    assert (outcome.status, outcome.out) == (2, "")
    assert outcome.one_line.startswith(f"{tmp_path / path}: ")


def test_broken_toml_and_a_clock_that_stands_still(run: Run, config: Path) -> None:
    outcome = run("agent", "--config", config, "--clock-speed", "0")
    assert (outcome.status, outcome.out) == (2, "")
    assert "--clock-speed: the clock's speed is 0" in outcome.one_line
    config.write_text("[service\n", encoding="utf-8")
    outcome = run("agent", "--check", "--config", config)
    assert (outcome.status, outcome.out) == (2, "")
    assert outcome.one_line.startswith(f"{config}:1")
