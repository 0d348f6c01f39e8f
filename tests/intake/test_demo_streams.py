"""Every recorded stream of the repository against the truth that its simulator wrote beside it."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from fillmark.engine import workshop
from fillmark.engine.events import Entry
from fillmark.engine.view import job_view
from fillmark.engine.workshop import Workshop
from fillmark.intake.events import from_records
from fillmark.intake.replay import POSITION, RECEIVED, replay
from fillmark.wire import senml

FOLDER = Path(__file__).parents[2] / "demo_streams"
STREAMS = sorted(
    path
    for path in FOLDER.glob("*.senml.jsonl")
    if "steps" not in json.loads((FOLDER / path.name.replace(".senml.jsonl", ".truth.json")).read_text("utf-8"))
)
"""Streams of one charge; the truth of a visit knows its steps."""
NAMES = [path.name.removesuffix(".senml.jsonl") for path in STREAMS]
every_stream = pytest.mark.parametrize("name", NAMES)

TOLERANCE_KG = 0.005
"""What an honest scale is held to at the end."""

DISTRUST = {"scale-disturbed", "unexplained-mass-step", "reading-stale", "scale-overload"}
"""Stop points that say that the scale cannot be trusted as it stands."""


def lines(name: str) -> list[str]:
    return (FOLDER / f"{name}.senml.jsonl").read_text(encoding="utf-8").splitlines()


def truth(name: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((FOLDER / f"{name}.truth.json").read_text(encoding="utf-8"))
    return found


@cache
def end(name: str) -> Workshop:
    """The state after the last line."""
    *_, state = replay(lines(name))
    return state


def served(name: str) -> tuple[Workshop, list[str]]:
    """A service's state after the stream, and its log as it exports it: a tick is a line of its own."""
    state, now_s, exported = Workshop(), 0.0, []

    def take(at_s: float, bay: str, line: str = "") -> None:
        nonlocal state
        records = senml.decode(line, now_s=now_s) if line else ()
        entry = Entry(state.position + 1, at_s, bay, from_records(records)[bay] if line else ())
        state, _ = workshop.step(state, entry)
        marks = [{"n": RECEIVED, "t": at_s, "v": at_s}, {"n": POSITION, "t": at_s, "v": entry.position}]
        body = json.loads(line) if line else [{"n": f"{bay}/tick", "t": at_s, "vb": True}]
        exported.append(json.dumps([*marks, *body]))

    for line in lines(name):
        records = senml.decode(line, now_s=now_s)
        now_s = max(now_s, *(record.time_s for record in records))
        while (wake := state.wake_at_s) is not None and wake < now_s:
            for bay in state.bays_due(wake):
                take(wake, bay)
        (bay,) = {record.name.partition("/")[0] for record in records}
        take(now_s, bay, line)
    return state, exported


def document(state: Workshop) -> str:
    return json.dumps([job_view(job) for job in state.jobs.values()], allow_nan=False)


def test_there_are_streams_enough() -> None:
    assert len(STREAMS) >= 8


@every_stream
def test_one_job_is_opened_and_every_mass_is_shown(name: str) -> None:
    (job,) = json.loads(document(end(name)))
    assert job["charged_u_kg"] > 0.0
    assert job["steps"]["charging"]["began"] is not None


@every_stream
def test_the_charge_is_true_or_the_stream_says_that_it_may_not_be(name: str) -> None:
    told = truth(name)
    (job,) = json.loads(document(end(name)))
    error_kg = abs(job["charged_kg"] - told["charged_kg"])
    if told["scale_honest"]:
        assert error_kg <= TOLERANCE_KG
    else:
        raised = {point["id"] for point in job["stop_points"]}
        assert raised & DISTRUST or job["charged_u_kg"] >= error_kg / 2
    assert error_kg <= max(TOLERANCE_KG, 3.0 * job["charged_u_kg"])


@every_stream
def test_what_each_container_gave_is_true(name: str) -> None:
    told = truth(name)
    if not told["scale_honest"]:
        assert DISTRUST & {point["id"] for point in json.loads(document(end(name)))[0]["stop_points"]}
        return
    (job,) = json.loads(document(end(name)))
    drawn = {row["id"]: row["drawn_kg"] for row in job["containers"]}
    assert drawn == pytest.approx({row["id"]: row["drawn_kg"] for row in told["containers"]}, abs=TOLERANCE_KG)


@pytest.mark.parametrize("name", NAMES[::4])
def test_an_exported_log_replays_to_the_same_bytes(name: str) -> None:
    state, exported = served(name)
    assert len(exported) > len(lines(name))
    *_, again = replay(exported)
    assert again.position == state.position
    assert document(again) == document(state) == document(end(name))


@every_stream
def test_decoding_and_encoding_a_line_changes_nothing(name: str) -> None:
    for line in lines(name):
        assert json.loads(senml.encode(senml.decode(line, now_s=0.0))) == json.loads(line)
