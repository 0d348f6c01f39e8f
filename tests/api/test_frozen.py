"""State as text: the streams of whole jobs, written and read back at many moments."""

from __future__ import annotations

import json
import math
from dataclasses import replace
from pathlib import Path

import pytest

from fillmark.api import frozen
from fillmark.api.frozen import FrozenError
from fillmark.engine.timeline import Timeline
from fillmark.intake.replay import replay
from fillmark.intake.stock import stock_action
from fillmark.stock import ledger as books
from fillmark.stock.ledger import Ledger

STREAMS = Path(__file__).parents[2] / "demo_streams"
NAMES = ("refrigerated-van-whole-job", "tram-nitrogen-leak", "minibus-can-swap", "excavator-probe-dropout")
"""Recovery, pressure test, evacuation, hold, charging, performance test; a swap; stop points that come and go."""


@pytest.mark.parametrize("name", NAMES)
def test_what_is_read_back_is_what_was_written(name: str) -> None:
    lines = (STREAMS / f"{name}.senml.jsonl").read_text(encoding="utf-8").splitlines()
    steps, count = set(), 0
    for index, state in enumerate(replay(lines)):
        if index % 60 == 0:
            jobs = {each: replace(job, timeline=job.timeline.cut(2)) for each, job in state.jobs.items()}
            state = replace(state, jobs=jobs)  # noqa: PLW2901 - the same moment, with less of its past
            text = frozen.dumps(state)
            assert frozen.loads(text) == state
            steps |= {job.course.step for job in jobs.values()}
            count += 1
    assert count > 5
    assert steps - {None}


def test_the_stock_is_read_back_as_it_was_entered() -> None:
    ledger, actions = Ledger(), (
        {"type": "purchase", "container": "C7", "net": "12 lb", "refrigerant": "r134a", "on": "2026-03-01"},
        {"type": "weighing", "container": "C7", "gross": "9 kg", "tare": "3.6 kg"},
        {"type": "use", "container": "C7", "mass": "120 g", "reason": "a leak at the hose"},
        {"type": "return", "container": "C7", "to": "the dealer"},
    )  # fmt: skip
    for position, action in enumerate(actions, start=1):
        ledger = books.step(ledger, position, 1.8e9 + position, stock_action(action), {})
    assert len(ledger.holdings[0].booked) == 3
    assert frozen.loads(frozen.dumps(ledger)) == ledger


@pytest.mark.parametrize(
    "value", [5e-324, 0.1 + 0.2, -0.0, math.inf, -math.inf, 1.8e9 + 2.4e-7, 2**70, "𝄞\0", (), ((),)]
)
def test_plain_values_come_back_to_the_last_bit(value: object) -> None:
    back = frozen.loads(frozen.dumps((value, {("a", 1): value})))
    assert back == (value, {("a", 1): value})
    assert repr(back[0]) == repr(value)


@pytest.mark.parametrize("value", [[1], object(), {"a": [1]}, (b"x",), Path(), complex(1)])
def test_what_is_not_known_is_refused(value: object) -> None:
    with pytest.raises(FrozenError):
        frozen.dumps(value)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{}",
        '{"a":1}',
        '{"":"os.system","of":"true"}',
        '{"":"builtins.eval","of":"1"}',
        '{"":"engine.timeline.Timeline"}',
        '{"":"engine.timeline.Timeline","surplus":1}',
        '{"":"engine.steps.Step","of":"none"}',
        '{"":"refrigerant","of":"none"}',
        '{"":"mapping","of":[[1]]}',
        '{"":["engine.timeline.Timeline"]}',
        "[" * 100_000,
    ],
)
def test_a_text_that_nothing_was_written_to_is_refused_and_makes_nothing(text: str) -> None:
    with pytest.raises(FrozenError):
        frozen.loads(text)


def test_no_class_but_those_of_state_is_made() -> None:
    names = set(frozen._classes())
    assert f"engine.timeline.{Timeline.__name__}" in names
    assert {name.partition(".")[0] for name in names} == {"engine", "stock", "wire"}
    assert json.loads(frozen.dumps(Ledger()))[frozen.KIND] == "stock.ledger.Ledger"
