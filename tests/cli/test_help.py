"""Help: at once, of every subcommand, and the same list in README.md."""

from __future__ import annotations

import importlib.metadata
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fillmark.cli import app

Run = Callable[..., Any]
README = Path(__file__).parents[2] / "README.md"
COMMANDS = [command.name for command in app.registered_commands]
ABOUT = {
    "demo": "Show a charge, or a whole job, live on this machine without any device.",
    "serve": "Serve the API and the live page until Ctrl-C.",
    "agent": "Read the devices of a bay and send their readings to the service, through outages.",
    "plan": "Plan a charge: all of one container, then so much of the next, and what stays in it.",
    "replay": "Replay a recorded stream as fast as possible",
    "simulate": "Simulate a charge or a visit and record it, with the truth beside it.",
    "stock": "Show what is left in each container across jobs, or sum up a year by refrigerant.",
    "watch": "Watch a job on the whole terminal.",
}
HEAVY = {"CoolProp", "fastapi", "uvicorn", "pydantic", "pint", "httpx", "aiosqlite", "fillmark_sim"}


def flat(text: str) -> str:
    return " ".join(text.split())


def test_every_command_is_known_here() -> None:
    assert set(COMMANDS) == set(ABOUT)


def test_the_help_lists_every_command_and_the_caution(run: Run) -> None:
    outcome = run("--help")
    assert (outcome.status, outcome.err) == (0, "")
    assert all(about in flat(outcome.out) for about in ABOUT.values())
    assert "Work on refrigerant circuits is for trained people." in flat(outcome.out)


@pytest.mark.parametrize("command", COMMANDS)
def test_each_says_what_it_does_and_explains_its_options(run: Run, command: str) -> None:
    outcome = run(command, "--help")
    assert (outcome.status, outcome.err) == (0, "")
    assert f"fillmark {command}" in outcome.out or f" {command} " in outcome.out
    assert ABOUT[command] in flat(outcome.out)
    options = re.findall(r"^│.*?--[a-z-]+ .*│$", outcome.out, re.MULTILINE)
    assert len(options) >= 2
    unexplained = [one for one in options if len(re.findall(r"\b[a-z]{2,}\b", one.partition("--")[2])) < 4]
    assert unexplained == []


@pytest.mark.parametrize("trial", ["holds", "evacuation", "nitrogen", "performance"])
def test_each_trial_says_what_it_does(run: Run, trial: str) -> None:
    assert trial in run("trial", "--help").out
    assert "how often" in flat(run("trial", trial, "--help").out)


def test_help_loads_nothing_heavy() -> None:
    """`-X importtime` lists on stderr whatever is imported."""
    done = subprocess.run(
        [sys.executable, "-X", "importtime", "-m", "fillmark", "--help"],
        capture_output=True, text=True, check=True, timeout=60,
    )  # fmt: skip
    loaded = {line.rpartition("|")[2].strip().partition(".")[0] for line in done.stderr.splitlines()}
    assert {"typer", "fillmark"} <= loaded
    assert loaded & HEAVY == set()


def test_the_version_is_that_of_the_distribution(run: Run) -> None:
    assert run("--version").out == importlib.metadata.version("fillmark") + "\n"


def test_nothing_and_nonsense_are_status_two(run: Run) -> None:
    assert run().status == 2
    outcome = run("foo")
    assert (outcome.status, outcome.out) == (2, "")
    assert "No such command 'foo'" in outcome.err


@pytest.mark.parametrize("command", COMMANDS)
def test_the_readme_mentions_every_command(command: str) -> None:
    assert f"fillmark {command}" in README.read_text(encoding="utf-8")
