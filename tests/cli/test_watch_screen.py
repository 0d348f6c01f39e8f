"""The full screen of `fillmark watch`: the same truths as the page, and no stale mass that looks live."""

from __future__ import annotations

import dataclasses
import io
import re
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
import pytest
from rich.console import Console

from fillmark.cli.watch_digits import HEIGHT, large
from fillmark.cli.watch_follow import Follower
from fillmark.cli.watch_screen import BARS, STALE_AFTER_S, Heard, mass_live, screen, spark
from fillmark.engine.view import job_view
from fillmark.intake.replay import replay

STREAMS = Path(__file__).parents[2] / "demo_streams"
View = dict[str, Any]
OPEN = {
    "circuit": {"refrigerant": "R-134a", "charge_min": "480 g", "charge_max": "520 g"},
    "scale": {"resolution": "1 g"},
}


@pytest.fixture(scope="module")
def views() -> list[View]:
    """Every fiftieth state of an overshoot, as a display gets it."""
    lines = (STREAMS / "snow-groomer-overshoot.senml.jsonl").read_text(encoding="utf-8").splitlines()
    jobs = [state.jobs["bay-1.1"] for state in replay(lines) if "bay-1.1" in state.jobs]
    return [dict(job_view(job)) for job in (*jobs[::50], jobs[-1])]


def drawn(view: View, heard: Heard | None = None, *, styled: bool = False, width: int = 130) -> str:
    console = Console(
        width=width, height=40, file=io.StringIO(), force_terminal=styled, color_system="truecolor" if styled else None
    )
    with console.capture() as capture:
        console.print(screen(view, heard or Heard(), [1e5, 1e3, 50.0], width))
    return capture.get()


def test_every_state_of_a_charge_is_drawn_at_every_width(views: list[View]) -> None:
    for view in views:
        for width in (60, 80, 130, 200):
            lines = drawn(view, width=width).splitlines()
            assert max(len(line) for line in lines) <= width
            assert f"window {view['charge_min_kg'] * 1e3:.0f} to" in "\n".join(lines)


def test_a_call_is_said_in_words_and_not_by_colour_alone(views: list[View]) -> None:
    critical = [v for v in views if any(p["severity"] == "critical" and " active" in p["state"] for p in v["active"])]
    assert critical
    for view in critical:
        if view["closed_at"] is None:
            assert "ACT NOW" in drawn(view)


def test_a_mass_is_live_only_while_it_is_fresh_and_connected(views: list[View]) -> None:
    live = next(view for view in views if view["mass_live"] and view["closed_at"] is None)
    assert mass_live(live, Heard())
    assert not mass_live(live, Heard(state_s=STALE_AFTER_S + 0.5))
    assert not mass_live(live, Heard(silent_s=1.0))
    assert not mass_live({**live, "mass_live": False}, Heard())
    assert not mass_live({**live, "mass_at": None}, Heard())
    assert re.search(r"\d s old", drawn(live))
    old = drawn(live, Heard(state_s=60.0))
    assert "SILENT SINCE" in old
    assert not re.search(r"\d s old", old)
    assert "\x1b[2;9m" in drawn(live, Heard(state_s=60.0), styled=True)  # ECMA-48: faint, crossed out


def test_the_reaction_that_the_call_reckons_with_is_said_in_one_line(views: list[View]) -> None:
    charging = next(view for view in views if view["step"] == "charging")
    assert charging["reaction"]["text"] == "Reaction 1.5 s, as declared."
    assert charging["reaction"]["text"] in drawn(charging)


def test_a_lost_connection_is_said_before_anything_that_does_not_press(views: list[View]) -> None:
    quiet = {**next(view for view in views if view["closed_at"] is None), "active": []}
    text = drawn(quiet, Heard(silent_s=12.0))
    assert "no connection for 12 s" in text
    assert "BLIND" in text


@pytest.mark.parametrize("step", ["recovery", "pressure_test", "evacuation", "vacuum_hold", "performance_test"])
def test_a_step_shows_its_own_number_and_a_dash_where_nothing_speaks(views: list[View], step: str) -> None:
    report: View = {"verdict": None, "measured": [], "next": [], "numbers": {"recovered_kg": 0.312}}
    silent = {**views[0], "step": step, "steps": {step: {"report": report}}, "readings": {}, "mass_at": None}
    assert large("-")[2].strip() in drawn(silent)
    stale = {"value": 123.0, "unit": "Pa", "at": 0.0, "live": False}
    channels = ("low/pressure", "vacuum/pressure", "vent/temperature")
    heard = {**silent, "mass_at": 0.0, "mass_live": False, "readings": dict.fromkeys(channels, stale)}
    assert "not live" in drawn(heard)


def test_between_two_steps_the_last_verdict_stands_and_no_old_mass(views: list[View]) -> None:
    report = {"verdict": "empty", "measured": ["399 g recovered"], "next": [], "numbers": {}}
    done = {"recovery": {"began": 1.0, "skipped": False, "report": report}}
    text = drawn({**views[0], "step": None, "steps": done, "containers": [], "active": []})
    assert "Recovery: done" in text
    assert "399 g recovered" in text
    assert "window" not in text


def test_digits_are_as_high_as_each_other_and_tell_apart() -> None:
    forms = {sign: tuple(large(sign)) for sign in "0123456789-."}
    assert {len(rows) for rows in forms.values()} == {HEIGHT}
    assert len(set(forms.values())) == len(forms)


def test_the_course_is_logarithmic_and_fits() -> None:
    assert spark([1e5, 1e3, 10.0], 80) == BARS[-1] + spark([1e5, 1e3, 10.0], 80)[1] + BARS[0]
    assert spark([1e5, 1e3, 10.0], 80)[1] in BARS[3:5]
    assert len(spark([50.0] * 1000, 80)) <= 80


def until(true: Callable[[], bool]) -> None:
    deadline = time.monotonic() + 30.0
    while not true():
        assert time.monotonic() < deadline, "it did not come"
        time.sleep(0.02)


def test_a_follower_counts_on_when_the_service_goes(service: str) -> None:
    httpx.post(f"{service}/v1/jobs?bay=bay-1", json=OPEN, trust_env=False).raise_for_status()
    with httpx.Client(base_url=service, timeout=5.0, trust_env=False) as client:
        follower = Follower(client)
        until(lambda: follower.seen.view is not None)
        assert follower.heard().silent_s is None
        before = follower.heard().state_s
        until(lambda: follower.heard().state_s > before)
        follower.seen.broken, follower.seen.heard_at = True, time.monotonic() - 7.0
        assert (follower.heard().silent_s or 0.0) >= 7.0
        follower.seen.over = True


def test_how_old_things_are_cannot_be_changed() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        Heard().state_s = 1.0  # type: ignore[misc]  # that is the test
