"""The replay of a stream: times of arrival, ticks, late lines, stamps, and refusals with their line."""

from __future__ import annotations

import json

import pytest

from fillmark.engine.view import job_view
from fillmark.engine.workshop import Workshop
from fillmark.intake.replay import RECEIVED, StreamError, replay

T_S = 1_790_000_000.0
OPEN = {
    "type": "job.open",
    "circuit": {"refrigerant": "R-134a", "charge_min": "480 g", "charge_max": "520 g"},
    "scale": {"resolution": "1 g"},
}


def mass(t: float, value: float = 5.0) -> dict[str, object]:
    return {"n": "bay-1/scale/mass", "u": "kg", "t": T_S + t, "v": value}


def action(t: float, raw: object) -> dict[str, object]:
    return {"n": "bay-1/action", "t": T_S + t, "vs": json.dumps(raw)}


def received(t: float) -> dict[str, object]:
    return {"n": RECEIVED, "u": "s", "t": T_S + t, "v": T_S + t}


def line(*items: dict[str, object]) -> str:
    return json.dumps(items) + "\n"


def states(*lines: str) -> list[Workshop]:
    return list(replay(lines))


def raised(state: Workshop, stop_point: str) -> list[float]:
    journal = state.jobs["bay-1.1"].journal
    return [moved.at_s - T_S for moved in journal if moved.id == stop_point and moved.after.startswith("unack")]


CHARGING = [
    line(action(0, OPEN)),
    line(action(1, {"type": "step.begin", "step": "charging"})),
    line(action(2, {"type": "container.mount", "container": "C1", "net": "340 g"})),
    *[line(mass(3 + t / 2)) for t in range(8)],
]


def test_a_line_arrives_when_its_newest_record_was_measured() -> None:
    *_, last = states(line(action(0, OPEN)), line(mass(4), mass(7), mass(5)))
    assert last.jobs["bay-1.1"].now_s == T_S + 7


def test_a_late_line_arrives_after_the_line_before_it_and_is_sorted_in() -> None:
    orderly = states(*CHARGING, line(mass(8, 4.99)), line(mass(10, 4.98)))[-1]
    late = states(*CHARGING, line(mass(10, 4.98)), line(mass(8, 4.99)))[-1]
    assert late.jobs["bay-1.1"].now_s == T_S + 10
    assert late.jobs["bay-1.1"].timeline.course.dispensed() == orderly.jobs["bay-1.1"].timeline.course.dispensed()


def test_ticks_fall_due_in_a_gap_so_that_a_silent_scale_is_noticed_in_time() -> None:
    state = states(*CHARGING, line({**mass(0), "n": "bay-2/scale/mass", "t": T_S + 120}))[-1]
    when = raised(state, "reading-stale")
    assert when
    assert 6.5 < when[0] < 60.0


def test_a_stamp_says_when_a_line_arrived_whatever_its_readings_say() -> None:
    stamped = states(line(action(0, OPEN)), line(received(30), mass(7)))[-1]
    assert stamped.jobs["bay-1.1"].now_s == T_S + 30
    assert stamped.unassigned == 0


def test_relative_times_count_from_the_last_arrival() -> None:
    state = states(line(action(0, OPEN)), line(mass(5)), line({**mass(0), "t": -2}))[-1]
    job = state.jobs["bay-1.1"]
    assert job.now_s == T_S + 5
    assert job.dropped == 0


def test_empty_lines_are_passed_over_and_counted() -> None:
    assert len(states("\n", line(mass(0)), "  \n")) == 1
    with pytest.raises(StreamError, match="line 3"):
        states("\n", line(mass(0)), "nonsense\n")


@pytest.mark.parametrize(
    ("bad", "said"),
    [
        ("nonsense", "not JSON"),
        ("{}", "array"),
        (line({**mass(2), "v": -9.0}), "/0/v"),
        (line(mass(2), {**mass(2), "u": "lb"}), "/1/u"),
        (line(action(2, {"type": "job.opne"})), "/0/vs/type"),
        (line(action(2, {"type": "valve", "valve": "low"})), "/0/vs/open"),
        (line(action(2, {"type": "step.end"})), "step"),
        (line(action(2, OPEN)), "close it first"),
    ],
)
def test_a_line_that_does_not_fit_is_named_and_the_lines_before_it_stand(bad: str, said: str) -> None:
    run = replay([line(action(0, OPEN)), line(mass(1)), bad, line(mass(3))])
    before = [next(run), next(run)]
    with pytest.raises(StreamError, match="line 3") as caught:
        next(run)
    assert said in str(caught.value)
    assert before[-1].jobs["bay-1.1"].now_s == T_S + 1


def test_two_bays_do_not_touch_each_other() -> None:
    def moved(text: str) -> str:
        return text.replace("bay-1", "bay-2")

    alone = states(*CHARGING)[-1]
    mixed = states(*[both for one in CHARGING for both in (one, moved(one))])[-1]
    assert set(mixed.jobs) == {"bay-1.1", "bay-2.1"}
    left, right = (job_view(state.jobs["bay-1.1"]) for state in (alone, mixed))
    differing = {name for name in left if left[name] != right[name]}
    assert differing <= {"position"}
