"""Actions in and out of order: a named refusal, and not a field of the state changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from fillmark.engine import events as ev
from fillmark.engine.steps import Step

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.engine.conftest import Bench

START_S = 1_800_000_000.0
Act = tuple[str, "Callable[[Bench], ev.Event]"]


def _mount(container: str) -> Callable[[Bench], ev.Event]:
    return lambda b: ev.MountContainer(b.clock, container)


def _valve(valve: ev.ValveName, *, is_open: bool) -> Callable[[Bench], ev.Event]:
    return lambda b: ev.SetValve(b.clock, valve, is_open)


def _begin(step: str) -> Callable[[Bench], ev.Event]:
    return lambda b: ev.BeginStep(b.clock, step)


LOW_OPEN = _valve("low", is_open=True)
HIGH_OPEN = _valve("high", is_open=True)

# What was done, what is then not allowed, and the code of the refusal.
ILLEGAL: dict[str, tuple[list[Callable[[Bench], ev.Event]], Callable[[Bench], ev.Event], str]] = {
    "mount twice": ([_mount("C1")], _mount("C2"), "container-on-the-pan"),
    "mount the same twice": ([_mount("C1")], _mount("C1"), "container-on-the-pan"),
    "unmount nothing": ([], lambda b: ev.UnmountContainer(b.clock), "no-container"),
    "unmount twice": (
        [_mount("C1"), lambda b: ev.UnmountContainer(b.clock)], lambda b: ev.UnmountContainer(b.clock), "no-container",
    ),
    "begin a step in a step": ([_begin("evacuation")], _begin("charging"), "step-in-progress"),
    "begin the same step twice": ([_begin("charging")], _begin("charging"), "step-in-progress"),
    "begin a step that does not exist": ([], _begin("topping up"), "unknown-step"),
    "end no step": ([], lambda b: ev.EndStep(b.clock), "no-step"),
    "end a step twice": (
        [_begin("charging"), lambda b: ev.EndStep(b.clock)], lambda b: ev.EndStep(b.clock), "no-step",
    ),
    "open a job in an open one": ([], lambda b: ev.OpenJob(b.clock, b.setup), "job-open"),
    "recover the hose while the low side is open": ([LOW_OPEN], lambda b: ev.RecoverHose(b.clock), "circuit-open"),
    "recover it weighed while the high side is open": (
        [HIGH_OPEN], lambda b: ev.RecoverHose(b.clock, 0.02), "circuit-open",
    ),
    "weigh a purge while the circuit is open": (
        [_mount("C1"), LOW_OPEN], lambda b: ev.PurgeHose(b.clock), "circuit-open",
    ),
    "treat an unknown stop point": (
        [], lambda b: ev.TreatStopPoint(b.clock, "acknowledge", "coffee-ready"), "unknown-stop-point",
    ),
    "reset what is normal": ([], lambda b: ev.TreatStopPoint(b.clock, "reset", "aim-reached"), "stop-point-state"),
    "unshelve what is not shelved": (
        [], lambda b: ev.TreatStopPoint(b.clock, "unshelve", "aim-reached"), "stop-point-state",
    ),
    "shelve what guards people": (
        [], lambda b: ev.TreatStopPoint(b.clock, "shelve", "high-pressure-limit", "", 60.0, "noise"), "not-shelvable",
    ),
}  # fmt: skip


@pytest.mark.parametrize("case", ILLEGAL)
def test_what_does_not_fit_is_refused_by_name_and_changes_nothing(case: str, bench: Bench) -> None:
    done, wrong, code = ILLEGAL[case]
    for act in done:
        bench.feed(act(bench))
        bench.wait_until(bench.now + 1.0)
    assert bench.refused(wrong(bench)) == code


@pytest.mark.parametrize("case", ILLEGAL)
def test_one_wrong_action_undoes_its_whole_entry(case: str, bench: Bench) -> None:
    """Right, wrong and a reading in one entry: all or nothing."""
    done, wrong, code = ILLEGAL[case]
    for act in done:
        bench.feed(act(bench))
        bench.wait_until(bench.now + 1.0)
    right = (ev.Note(bench.clock, "before"), ev.Reading(bench.clock, "low/pressure", 3e5))
    if not isinstance(wrong(bench), ev.OpenJob):
        assert bench.refused(*right, wrong(bench), ev.Note(bench.clock, "after")) == code
    bench.feed(*right)
    assert [note.text for note in bench.job.course.notes] == ["before"]


def _every_action(bench: Bench) -> list[ev.Event]:
    now = bench.clock
    return [
        ev.CloseJob(now),
        ev.BeginStep(now, "charging"),
        ev.EndStep(now),
        ev.MountContainer(now, "C9"),
        ev.UnmountContainer(now),
        ev.SetValve(now, "low", open=True),
        ev.PurgeHose(now, 1e-3),
        ev.SetEngine(now, running=True),
        ev.RecoverHose(now, 1e-3),
        ev.ExplainStep(now, "handling"),
        ev.CorrectCharge(now, 1e-3, "why"),
        ev.Note(now, "text"),
        ev.StateParticulars(now, {"company": "Weir & Sons"}),
        ev.TreatStopPoint(now, "acknowledge", "aim-reached"),
    ]


def test_after_the_close_every_action_is_refused(bench: Bench) -> None:
    bench.close_job()
    for action in _every_action(bench):
        assert bench.refused(action) == "no-job"


def test_in_the_entry_that_closes_the_job_nothing_comes_after(bench: Bench) -> None:
    for action in _every_action(bench):
        assert bench.refused(ev.CloseJob(bench.clock), action) == "job-closed"


def test_without_a_job_every_action_is_refused(bench: Bench) -> None:
    before = bench.state
    bench.bay = "bay-2"
    for action in _every_action(bench):
        assert bench.refused(action) == "no-job"
    assert bench.state is before


def test_the_refused_becomes_lawful_once_its_reason_is_gone(bench: Bench) -> None:
    """The other half: the same actions, in order."""
    bench.begin("evacuation")
    bench.end()
    bench.begin("charging")
    bench.mount("C1")
    bench.unmount()
    bench.mount("C2")
    bench.run(3.0)
    bench.valve("low", is_open=True)
    bench.run(5.0, flow=2e-3)
    bench.valve("low", is_open=False)
    bench.feed(ev.PurgeHose(bench.clock))
    bench.feed(ev.RecoverHose(bench.clock))
    bench.end()
    assert [record.step for record in bench.job.course.steps] == [Step.EVACUATION, Step.CHARGING]
    assert all(record.ended_s is not None for record in bench.job.course.steps)


def test_valves_are_unknown_until_somebody_tells(bench: Bench) -> None:
    assert bench.view["valves"] == {}
    assert bench.view["engine_running"] is None
    bench.valve("low", is_open=False)
    bench.engine(running=False)
    assert bench.view["valves"] == {"low": False}
    assert bench.view["engine_running"] is False


def test_taking_a_container_off_shuts_its_valve_and_no_other(bench: Bench) -> None:
    bench.mount()
    bench.run(3.0)
    bench.valve("container", is_open=True)
    bench.valve("low", is_open=True)
    bench.unmount()
    assert bench.view["valves"] == {"container": False, "low": True}
