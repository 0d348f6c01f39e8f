"""Order of time out of order of arrival."""

from __future__ import annotations

import itertools
import time
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fillmark.engine import events as ev
from fillmark.engine.course import Course
from fillmark.engine.errors import ActionRefusedError, OtherCourseError
from fillmark.engine.events import Reading
from fillmark.engine.setup import Circuit, Hose, Scale, Setup
from fillmark.engine.timeline import CHUNK_EVENTS, Chunk, Timeline

if TYPE_CHECKING:
    from tests.engine.conftest import MakeBench, ToyFluid

    from fillmark.engine.timeline import Item
    from fillmark.refrigerants.protocol import Refrigerant


def _empty(fluid: Refrigerant) -> Timeline:
    return Timeline.begun(Course.begun(Setup(Circuit(fluid, 0.48, 0.52), Scale(1e-3), hose=Hose(1.8, 4.8e-3)), 0.0))


def _facts() -> list[Item]:
    return [
        ev.BeginStep(0.0, "charging"),
        ev.MountContainer(0.0, "C1"),
        ev.SetValve(4.25, "low", open=True),
        ev.SetEngine(6.0, running=True),
        ev.SetValve(30.0, "low", open=False),
        ev.PurgeHose(38.0, 1e-3),
        ev.SetValve(40.0, "low", open=True),
    ]


def _readings() -> list[Item]:
    """Three channels that speak at the same moments, as in a pack, over more than three chunks."""
    found: list[Item] = []
    for index in range(CHUNK_EVENTS + 8):
        time_s = 1.0 + index * 0.5
        flowing = min(max(time_s - 4.25, 0.0), 25.75) + max(time_s - 40.0, 0.0)
        found += [
            Reading(time_s, "scale/mass", round(1.0 - 2e-3 * flowing, 3)),
            Reading(time_s, "low/pressure", 3e5 + 100.0 * index),
            Reading(time_s, "ambient/temperature", 20.0 + 0.01 * index),
        ]
    return found


def _items(timeline: Timeline) -> list[Item]:
    return list(timeline.items)


@pytest.fixture
def in_order(toy: ToyFluid) -> Timeline:
    return _empty(toy).with_items([*_facts(), *_readings()])


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_readings_in_any_order_in_packs_of_any_size_give_the_same_course(
    data: st.DataObject, toy: ToyFluid, in_order: Timeline
) -> None:
    """Late, repeated and disordered, after all that was done."""
    readings = _readings()
    again = data.draw(st.lists(st.sampled_from(readings), max_size=60))
    sent = data.draw(st.permutations([*readings, *again]))
    sizes = data.draw(st.lists(st.sampled_from((1, 3, 20, CHUNK_EVENTS, 90)), min_size=1, max_size=6))
    timeline, index = _empty(toy).with_items(_facts()), 0
    while sent:
        size = max(sizes[index % len(sizes)], 8)
        timeline, sent, index = timeline.with_items(sent[:size]), sent[size:], index + 1
    assert timeline.course == in_order.course
    assert _items(timeline) == _items(in_order)


def test_a_backlog_delivered_from_its_end_to_its_beginning(toy: ToyFluid, in_order: Timeline) -> None:
    timeline = _empty(toy).with_items(_facts())
    for item in reversed(_readings()):
        timeline = timeline.with_items([item])
    assert timeline.course == in_order.course


def test_a_repetition_changes_nothing_wherever_the_borders_of_chunks_lie(in_order: Timeline) -> None:
    borders = {id(chunk.items[place]) for chunk in in_order.chunks for place in (0, -1)}
    items = _items(in_order)
    for item in (item for index, item in enumerate(items) if index % 7 == 0 or id(item) in borders):
        repeated = in_order.with_items([item])
        assert repeated.course == in_order.course
        assert len(_items(repeated)) == len(_items(in_order))


def test_the_same_moment_of_the_same_channel_is_the_same_reading(in_order: Timeline) -> None:
    assert in_order.with_items([Reading(10.0, "scale/mass", 9.9)]).course == in_order.course


def test_chunks_are_kept_short_and_begin_with_their_course(in_order: Timeline) -> None:
    assert len(in_order.chunks) > 3
    assert all(len(chunk.items) <= CHUNK_EVENTS for chunk in in_order.chunks)
    for before, after in itertools.pairwise(in_order.chunks):
        assert Timeline(before.start, (Chunk(before.start, ()),)).with_items(before.items).course == after.start


@pytest.mark.parametrize("count", [CHUNK_EVENTS - 1, CHUNK_EVENTS, CHUNK_EVENTS + 1, 2 * CHUNK_EVENTS])
def test_late_by_one_at_every_border(count: int, toy: ToyFluid) -> None:
    readings: list[Item] = [Reading(float(i), "low/pressure", 1e5 + i) for i in range(count + 3)]
    whole = _empty(toy).with_items(readings)
    for missing in (0, 1, count - 1, count, count + 1):
        rest = [item for index, item in enumerate(readings) if index != missing]
        timeline = _empty(toy).with_items(rest).with_items([readings[missing]])
        assert timeline.course == whole.course
        assert _items(timeline) == readings


def test_actions_of_one_moment_keep_the_order_in_which_they_were_told(toy: ToyFluid) -> None:
    told: list[Item] = [
        ev.MountContainer(5.0, "C1"),
        ev.UnmountContainer(5.0),
        ev.MountContainer(5.0, "C2"),
        ev.SetValve(5.0, "low", open=True),
        ev.SetValve(5.0, "low", open=False),
        ev.Note(5.0, "b"),
        ev.Note(5.0, "a"),
    ]
    timeline = _empty(toy)
    for item in told:
        timeline = timeline.with_items([item])
    assert _items(timeline) == told
    assert timeline.course.mounted == "C2"
    assert timeline.course.valves == {"low": False}
    late = _empty(toy).with_items([Reading(9.0, "low/pressure", 3e5)])
    for item in told:
        late = late.with_items([item])
    assert _items(late)[:-1] == told


def test_an_action_told_twice_is_one_action_and_a_like_one_is_another(toy: ToyFluid) -> None:
    note = ev.Note(5.0, "seen")
    timeline = _empty(toy).with_items([note]).with_items([note]).with_items([ev.Note(5.5, "seen")])
    assert [n.time_s for n in timeline.course.notes] == [5.0, 5.5]


def test_an_action_that_does_not_fit_at_its_time_changes_nothing(in_order: Timeline) -> None:
    before = in_order.course
    for item in (ev.MountContainer(20.0, "C2"), ev.BeginStep(20.0, "charging"), ev.EndStep(-1.0)):
        with pytest.raises(ActionRefusedError):
            in_order.with_items([item])
        assert in_order.course == before


def test_an_action_after_which_an_earlier_told_one_no_longer_fits_is_refused(toy: ToyFluid) -> None:
    timeline = _empty(toy).with_items([ev.MountContainer(10.0, "C1"), ev.Note(20.0, "later")])
    with pytest.raises(ActionRefusedError) as caught:
        timeline.with_items([ev.MountContainer(5.0, "C0")])
    assert caught.value.code == "container-on-the-pan"


LEGALITY = [
    ev.PurgeHose(20.0),
    ev.PurgeHose(20.0, 2e-3),
    ev.RecoverHose(20.0),
    ev.RecoverHose(20.0, 2e-3),
    ev.ExplainStep(20.0, "refrigerant"),
    ev.UnmountContainer(20.0),
    ev.CorrectCharge(20.0, 0.01, "why"),
]


@pytest.mark.parametrize("valves", [(), ("container",), ("low",), ("container", "low")])
@pytest.mark.parametrize("action", LEGALITY, ids=repr)
def test_no_reading_makes_an_action_lawful_or_unlawful(
    valves: tuple[ev.ValveName, ...], action: ev.Fact, toy: ToyFluid
) -> None:
    """Actions first and readings later, or readings first: the same answer, and readings are never refused."""
    facts: list[Item] = [ev.BeginStep(0.0, "charging"), ev.MountContainer(0.0, "C1")]
    facts += [ev.SetValve(5.0, valve, open=True) for valve in valves]
    drained: list[Item] = [Reading(t * 0.5, "scale/mass", 1.0 - 3e-3 * max(t * 0.5 - 5.0, 0.0)) for t in range(60)]

    def answer(first: list[Item], then: list[Item]) -> tuple[str, Timeline]:
        timeline = _empty(toy).with_items([*facts, *first])
        try:
            timeline = timeline.with_items([action])
        except ActionRefusedError as refused:
            return refused.code, timeline.with_items(then)
        return "", timeline.with_items(then)

    blind, seeing = answer([], drained), answer(drained, [])
    assert blind[0] == seeing[0]
    assert blind[1].course == seeing[1].course


def test_late_readings_cost_no_more_than_the_events_behind_them(make_bench: MakeBench) -> None:
    """A backlog of an hour in one pack, before one live reading: linear, not quadratic."""
    bench = make_bench()
    timeline = Timeline.begun(Course.begun(bench.setup, 0.0)).with_items([Reading(4000.0, "low/pressure", 3e5)])
    backlog: list[Item] = [Reading(float(t), "low/pressure", 3e5) for t in range(3600)]
    began = time.process_time()
    timeline = timeline.with_items(backlog)
    assert time.process_time() - began < 1.0
    assert len(_items(timeline)) == 3601


@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_a_timeline_that_forgets_leads_to_the_same_course_as_long_as_it_reaches(
    data: st.DataObject, toy: ToyFluid, in_order: Timeline
) -> None:
    """Nothing is late by more than a chunk; the rest is forgotten on the way."""
    sent = sorted([*_facts(), *_readings()], key=lambda item: item.time_s)
    size = data.draw(st.integers(1, CHUNK_EVENTS))
    timeline = Timeline.begun(_empty(toy).course, most_chunks=2)
    for start in range(0, len(sent), size):
        pack = data.draw(st.permutations(sent[start : start + size]))
        for item in pack:
            assert timeline.reaches([item])
            timeline = timeline.with_items([item])
    assert timeline.course == in_order.course
    assert len(timeline.chunks) == 2
    assert not timeline.whole
    assert list(timeline.items) == _items(in_order)[-len(timeline.items) :]


def test_it_reaches_what_came_after_the_course_it_begins_with_and_nothing_before(in_order: Timeline) -> None:
    recent = in_order.cut(1)
    begins_s = recent.chunks[0].start.time_s
    assert [recent.reaches([Reading(at, "low/pressure", 3e5)]) for at in (0.0, begins_s)] == [False, False]
    late = Reading(begins_s + 0.1, "vent/temperature", 8.0)
    assert recent.reaches([late])
    assert recent.with_items([late]).course == in_order.with_items([late]).course
    assert in_order.reaches([Reading(0.0, "low/pressure", 3e5)])
    assert in_order.cut(0).course == in_order.course


def test_a_forgetful_timeline_is_made_whole_from_what_was_forgotten(toy: ToyFluid, in_order: Timeline) -> None:
    recent, items = in_order.cut(1), _items(in_order)
    log = _empty(toy).with_items(items[: len(items) - 10])
    whole = log.joined(recent)
    assert whole.whole
    assert _items(whole) == items
    with pytest.raises(OtherCourseError):
        _empty(toy).with_items([*_facts(), *_readings()[50:]]).joined(recent)


def test_nothing_is_forgotten_while_the_rest_of_a_backlog_may_follow(toy: ToyFluid) -> None:
    """What lies far back keeps the timeline whole, until as many events as are kept have come since."""
    live: list[Item] = [Reading(1000.0 + n, "low/pressure", 3e5) for n in range(5 * CHUNK_EVENTS)]
    timeline = replace(_empty(toy).with_items(live), most_chunks=2)
    for n in range(3):
        timeline = timeline.with_items([Reading(10.0 + n, "vent/temperature", 8.0)])
        assert timeline.whole
    following: list[Item] = [Reading(2000.0 + n, "low/pressure", 3e5) for n in range(2 * CHUNK_EVENTS)]
    assert timeline.with_items(following[:-1]).whole
    settled = timeline.with_items(following)
    assert not settled.whole
    assert len(settled.chunks) == 2
