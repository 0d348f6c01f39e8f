"""The stop points of a job in the order of the log: treatments, shelving, ticks, closing."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from fillmark.engine import events as ev
from fillmark.engine.job import opened
from fillmark.engine.setup import Limits
from fillmark.engine.stop_points import STOP_POINTS

if TYPE_CHECKING:
    from tests.engine.conftest import Bench, MakeBench

START_S = 1_800_000_000.0


def _state(bench: Bench, stop_point: str, subject: str = "") -> str:
    point = bench.job.points.get((stop_point, subject))
    return "normal" if point is None else str(point.life)


def _stalled(make: MakeBench) -> Bench:
    bench = make(hz=1.0).ready(gross=1.0)
    bench.valve("low", is_open=True)
    bench.run(40.0)
    assert _state(bench, "flow-stalled") == "unacknowledged active"
    return bench


def _hot(make: MakeBench) -> Bench:
    bench = make(limits=Limits(high_pressure_abs_pa=25e5)).ready()
    bench.read("high/pressure", 26e5)
    return bench


def test_acknowledged_and_gone_is_normal(make_bench: MakeBench) -> None:
    bench = _stalled(make_bench)
    bench.treat("acknowledge", "flow-stalled")
    assert _state(bench, "flow-stalled") == "acknowledged active"
    bench.run(10.0, flow=2e-3)
    assert _state(bench, "flow-stalled") == "normal"


def test_gone_before_it_was_acknowledged_stays_in_sight(make_bench: MakeBench) -> None:
    bench = _stalled(make_bench)
    bench.run(10.0, flow=2e-3)
    assert _state(bench, "flow-stalled") == "returned to normal unacknowledged"
    active = bench.view["active"]
    assert isinstance(active, list)
    assert [row["state"] for row in active if row["id"] == "flow-stalled"] == ["returned to normal unacknowledged"]
    bench.treat("acknowledge", "flow-stalled")
    assert _state(bench, "flow-stalled") == "normal"


def test_acknowledging_what_another_display_has_acknowledged_is_no_error(make_bench: MakeBench) -> None:
    bench = _stalled(make_bench)
    for _ in range(3):
        bench.treat("acknowledge", "flow-stalled")
    bench.treat("acknowledge", "aim-reached")
    assert _state(bench, "flow-stalled") == "acknowledged active"
    assert len([t for t in bench.moved if t.id == "flow-stalled"]) == 2


def test_a_latched_one_stays_until_it_is_reset(make_bench: MakeBench) -> None:
    bench = make_bench(hz=1.0).ready(gross=1.0)
    bench.valve("low", is_open=True)
    bench.run(265.0, flow=2e-3)
    bench.valve("low", is_open=False)
    assert bench.refused(ev.TreatStopPoint(bench.clock, "reset", "window-exceeded")) == "stop-point-state"
    bench.feed(ev.CorrectCharge(bench.clock, -0.05, "recovered by weight"))
    assert _state(bench, "window-exceeded") == "latched unacknowledged"
    bench.treat("acknowledge", "window-exceeded")
    assert _state(bench, "window-exceeded") == "latched acknowledged"
    bench.run(30.0)
    assert _state(bench, "window-exceeded") == "latched acknowledged"
    bench.treat("reset", "window-exceeded")
    assert _state(bench, "window-exceeded") == "normal"


def test_shelved_is_silent_and_speaks_again_by_a_tick_when_its_time_is_over(make_bench: MakeBench) -> None:
    bench = _stalled(make_bench)
    bench.feed(ev.TreatStopPoint(bench.clock, "shelve", "flow-stalled", "", 60.0, "can is being warmed"))
    assert _state(bench, "flow-stalled") == "shelved"
    assert "flow-stalled" not in bench.active
    until = bench.now + 60.0
    while bench.now < until - 1.0:
        bench.run(1.0)
    assert _state(bench, "flow-stalled") == "shelved"
    assert bench.job.wake_at_s is not None
    bench.wait_until(until)
    assert _state(bench, "flow-stalled") == "unacknowledged active"
    ended = [t for t in bench.moved if t.id == "flow-stalled"][-2:]
    assert [t.after.value for t in ended] == ["normal", "unacknowledged active"]
    assert {t.at_s for t in ended} == {START_S + until}


def test_unshelving_by_hand_judges_at_once(make_bench: MakeBench) -> None:
    bench = _stalled(make_bench)
    bench.treat("shelve", "flow-stalled", duration_s=600.0)
    bench.treat("unshelve", "flow-stalled")
    assert _state(bench, "flow-stalled") == "unacknowledged active"


def test_what_is_put_aside_before_it_speaks_does_not_speak_for_any_subject(make_bench: MakeBench) -> None:
    bench = make_bench(hz=1.0).open_job()
    bench.begin()
    bench.mount(gross=1.0, net=0.1)
    bench.run(4.0)
    bench.treat("shelve", "container-empty", duration_s=300.0)
    bench.valve("low", is_open=True)
    bench.run(50.0, flow=2e-3)
    bench.run(10.0)
    assert "container-empty" not in bench.active
    bench.run(260.0)
    assert "container-empty" in bench.active


def test_one_subject_put_aside_does_not_stand_in_the_way_of_another(make_bench: MakeBench) -> None:
    bench = make_bench(hz=1.0).ready(gross=1.0, net=0.1)
    bench.valve("low", is_open=True)
    bench.run(50.0, flow=2e-3)
    bench.run(10.0)
    bench.treat("shelve", "container-empty", "C1", duration_s=3600.0)
    bench.valve("low", is_open=False)
    bench.unmount()
    bench.mount("C2", gross=1.0, net=0.1)
    bench.run(4.0)
    bench.valve("low", is_open=True)
    bench.run(50.0, flow=2e-3)
    bench.run(10.0)
    assert _state(bench, "container-empty", "C2") == "unacknowledged active"
    bench.treat("acknowledge", "container-empty")
    assert _state(bench, "container-empty", "C2") == "acknowledged active"
    assert _state(bench, "container-empty", "C1") == "shelved"


@pytest.mark.parametrize("stop_point", [row.id for row in STOP_POINTS.values() if not row.shelvable])
def test_no_stop_point_that_guards_people_can_be_put_aside(stop_point: str, bench: Bench) -> None:
    assert bench.refused(ev.TreatStopPoint(bench.clock, "shelve", stop_point, "", 60.0, "noise")) == "not-shelvable"


@pytest.mark.parametrize("stop_point", STOP_POINTS)
def test_every_treatment_of_every_stop_point_is_an_answer_or_a_named_refusal(stop_point: str, bench: Bench) -> None:
    row = STOP_POINTS[stop_point]
    bench.treat("acknowledge", stop_point)
    assert bench.refused(ev.TreatStopPoint(bench.clock, "reset", stop_point)) == "stop-point-state"
    assert bench.refused(ev.TreatStopPoint(bench.clock, "unshelve", stop_point)) == "stop-point-state"
    if row.shelvable:
        bench.treat("shelve", stop_point, duration_s=60.0)
        assert bench.refused(ev.TreatStopPoint(bench.clock, "shelve", stop_point)) == "stop-point-state"
        assert bench.refused(ev.TreatStopPoint(bench.clock, "acknowledge", stop_point)) == "stop-point-state"
        bench.treat("unshelve", stop_point)


def test_ending_the_step_ends_what_only_charging_knows(make_bench: MakeBench) -> None:
    bench = _stalled(make_bench)
    bench.end()
    assert "flow-stalled" not in bench.active


@pytest.mark.parametrize(("hz", "after_s"), [(10.0, 3.0), (1.0, 3.0), (0.5, 6.0)])
def test_a_scale_that_falls_silent_is_told_exactly_when_it_is_due(
    hz: float, after_s: float, make_bench: MakeBench
) -> None:
    bench = make_bench(hz=hz).ready()
    bench.run(30.0)
    last = bench.now
    bench.wait_until(last + after_s - 0.001)
    assert not bench.raised("reading-stale")
    bench.wait_until(last + 60.0)
    raised = bench.raised("reading-stale")
    assert [t.subject for t in raised] == ["scale/mass"]
    assert raised[0].at_s - START_S - last == pytest.approx(after_s, abs=1e-3)
    assert bench.view["mass_live"] is False


def test_a_scale_that_never_spoke_is_told_too(make_bench: MakeBench) -> None:
    bench = make_bench().open_job()
    bench.begin()
    bench.mount()
    bench.valve("low", is_open=True)
    bench.wait_until(8.9)
    assert "reading-stale" not in bench.active
    bench.wait_until(60.0)
    raised = bench.raised("reading-stale")
    assert [t.at_s - START_S for t in raised] == [9.0]
    assert "has not spoken yet" in raised[0].text
    bench.run(1.0)
    assert "reading-stale" not in bench.active


def test_a_probe_that_falls_silent_does_not_hide_behind_one_that_speaks(make_bench: MakeBench) -> None:
    bench = make_bench(hz=1.0).ready()
    bench.probes = {"low/pressure": 3e5, "high/pressure": 12e5}
    bench.run(20.0)
    del bench.probes["low/pressure"]
    bench.run(20.0)
    assert {subject for name, subject in bench.job.active if name == "reading-stale"} == {"low/pressure"}
    bench.probes["low/pressure"] = 3e5
    bench.run(2.0)
    assert "reading-stale" not in bench.active


def test_a_silent_vacuum_gauge_is_called_silent_and_shuts_no_valve(make_bench: MakeBench) -> None:
    bench = make_bench().open_job()
    bench.begin("evacuation")
    for _ in range(10):
        bench.wait_until(bench.now + 5.0)
        bench.read("vacuum/pressure", 500.0)
    bench.wait_until(bench.now + 60.0)
    (raised,) = bench.raised("reading-stale")
    assert raised.text.startswith("The vacuum gauge is silent. ")
    assert "shut" not in raised.text.lower()


def test_a_limit_is_not_judged_by_a_dead_reading(make_bench: MakeBench) -> None:
    bench = _hot(make_bench)
    assert "high-pressure-limit" in bench.active
    bench.run(60.0)
    assert "high-pressure-limit" not in bench.active
    assert ("reading-stale", "high/pressure") in bench.job.active


def test_without_anything_to_wait_for_no_tick_is_asked_for(bench: Bench) -> None:
    assert bench.state.wake_at_s is None
    bench.begin()
    bench.mount()
    bench.run(3.0)
    assert bench.job.wake_at_s is not None
    bench.close_job()
    assert bench.state.wake_at_s is None


def test_every_tick_asked_for_lies_ahead(make_bench: MakeBench) -> None:
    """Otherwise a service would turn in place."""
    bench = make_bench(hz=1.0).ready(gross=1.0)
    bench.ticking = False
    bench.valve("low", is_open=True)
    for index in range(300):
        bench.run(1.0, flow=2e-3 if index % 60 < 40 else 0.0)
        wake = bench.job.wake_at_s
        assert wake is None or wake > bench.job.now_s


def test_a_clock_that_goes_back_between_entries_does_not_take_the_job_back(bench: Bench) -> None:
    bench.begin()
    bench.mount()
    bench.run(10.0)
    now, charged = bench.job.now_s, bench.charged_kg
    bench.now = 2.0
    bench.feed()
    bench.read("low/pressure", 3e5, at=1.0)
    assert bench.job.now_s == now
    assert bench.charged_kg == charged
    assert [t.at_s for t in bench.moved] == sorted(t.at_s for t in bench.moved)


def test_readings_from_before_the_job_are_counted_and_left_out(bench: Bench) -> None:
    bench.read("low/pressure", 3e5, at=-1.0)
    assert bench.job.dropped == 1
    assert bench.state.unassigned == 1
    assert bench.job.course.latest == {}


def test_closing_ends_the_step_in_progress(bench: Bench) -> None:
    bench.begin()
    bench.wait_until(5.0)
    bench.close_job()
    assert bench.view["step"] is None
    (charging,) = bench.job.course.steps
    assert (charging.began_s, charging.ended_s) == (START_S, START_S + 5.0)
    assert charging.report is not None
    assert bench.job.closed_s == START_S + 5.0


def test_a_reading_of_the_jobs_own_time_is_taken_in_after_the_close(make_bench: MakeBench) -> None:
    """A backlog that comes only after the close counts as if it had come in time."""

    def charge(*, late: bool) -> Bench:
        bench = make_bench(hz=2.0).ready(gross=1.0)
        bench.valve("low", is_open=True)
        bench.run(50.0, flow=2e-3)
        kept: list[ev.Event] = []
        for _ in range(60):
            bench.wait_until(bench.now + 0.5)
            bench.load_kg -= 1e-3
            kept.append(ev.Reading(bench.clock, "scale/mass", bench.shown()))
            if not late:
                bench.feed(kept[-1])
        bench.valve("low", is_open=False)
        bench.wait_until(bench.now + 8.0)
        kept.append(ev.Reading(bench.clock, "scale/mass", bench.shown()))
        if not late:
            bench.feed(kept[-1])
        bench.close_job()
        if late:
            raised = bench.moved[:]
            bench.feed(*kept)
            assert bench.moved == raised
        return bench

    in_time, late = charge(late=False), charge(late=True)
    assert late.job.course == in_time.job.course
    assert late.charged_kg == pytest.approx(in_time.charged_kg, abs=1e-12)
    assert late.state.unassigned == 0


def test_in_the_entry_that_closes_the_job_its_readings_still_count(bench: Bench) -> None:
    bench.now = 10.0
    bench.feed(
        ev.CloseJob(bench.clock),
        ev.Reading(bench.clock - 1.0, "low/pressure", 3e5),
        ev.Reading(bench.clock + 1.0, "low/pressure", 4e5),
    )
    assert bench.job.course.value("low/pressure") == 3e5
    assert bench.job.dropped == 1


def test_a_job_of_ten_hours_stays_sure_of_nothing_it_cannot_know(make_bench: MakeBench) -> None:
    bench = make_bench(hz=0.02).ready(gross=1.0)
    early = bench.job.picture.charged.u_kg
    bench.run(36_000.0)
    assert bench.charged_kg == 0.0
    assert bench.job.picture.charged.u_kg > 5e-3 > early
    json.dumps(bench.view, allow_nan=False)


def test_opened_from_the_future_or_the_past_the_clock_is_the_later(bench: Bench) -> None:
    entry = ev.Entry(1, 100.0, "bay-1", ())
    assert opened("j", entry, ev.OpenJob(90.0, bench.setup)).now_s == 100.0
    assert opened("j", entry, ev.OpenJob(110.0, bench.setup)).now_s == 110.0
