"""The order of the steps, and what is missed by leaving one out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from fillmark.engine import events as ev
from fillmark.engine.steps import MAY_FOLLOW, USUAL_BEFORE, Step, StepRecord, last_done, missed_before

if TYPE_CHECKING:
    from tests.engine.conftest import MakeBench


def done(*steps: Step) -> list[StepRecord]:
    return [StepRecord(step, 1.0, 2.0) for step in steps]


def test_every_step_has_its_rows() -> None:
    assert set(MAY_FOLLOW) == set(USUAL_BEFORE) == set(Step)


def test_the_whole_job_in_order_is_lawful_and_misses_nothing() -> None:
    # The six steps in their usual order: common practice, no source.
    for index, step in enumerate(Step):
        records = done(*list(Step)[:index])
        assert not missed_before(step, records)
        if records:
            assert last_done(records) in MAY_FOLLOW[step]


@pytest.mark.parametrize("step", [Step.PRESSURE_TEST, Step.EVACUATION, Step.VACUUM_HOLD])
def test_neither_nitrogen_nor_vacuum_in_a_charged_circuit(step: Step) -> None:
    assert Step.CHARGING not in MAY_FOLLOW[step]
    assert Step.PERFORMANCE_TEST not in MAY_FOLLOW[step]


def test_recovery_may_always_begin() -> None:
    assert MAY_FOLLOW[Step.RECOVERY] == frozenset(Step)


def test_a_skipped_step_is_not_missed_and_not_the_last_one_done() -> None:
    skipped = StepRecord(Step.VACUUM_HOLD, 3.0, 3.0, "gauge broken", skipped=True)
    records = [*done(Step.EVACUATION), skipped]
    assert not missed_before(Step.CHARGING, records)
    assert last_done(records) is Step.EVACUATION


def test_a_job_that_begins_with_charging_misses_nothing() -> None:
    assert not missed_before(Step.CHARGING, [])


def test_a_missed_step_needs_a_reason_and_the_reason_is_kept(make_bench: MakeBench) -> None:
    bench = make_bench().open_job()
    bench.begin("recovery")
    bench.end()
    assert bench.refused(ev.BeginStep(bench.clock, "charging")) == "step-missed"
    bench.begin("charging", reason="evacuated by the other bay")
    assert bench.job.course.steps[-1].reason == "evacuated by the other bay"


def test_a_skip_is_recorded_with_its_reason(make_bench: MakeBench) -> None:
    bench = make_bench().open_job()
    bench.begin("recovery")
    bench.end()
    bench.feed(ev.SkipStep(bench.clock, "pressure_test", "no nitrogen at hand"))
    bench.feed(ev.BeginStep(bench.clock, "evacuation"))
    record = bench.job.course.steps[-2]
    assert (record.skipped, record.reason) == (True, "no nitrogen at hand")


def test_nitrogen_after_charging_is_refused(make_bench: MakeBench) -> None:
    bench = make_bench().open_job()
    bench.begin()
    bench.end()
    assert bench.refused(ev.BeginStep(bench.clock, "pressure_test", "anyway")) == "step-order"
