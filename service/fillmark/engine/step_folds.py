"""How beginning, ending and skipping steps, the pump, oil and parts change the course of a job."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from fillmark.engine.course import Course
from fillmark.engine.errors import ActionRefusedError
from fillmark.engine.events import BeginStep, EndStep, MoveOil, ReplaceComponent, SetPump, SkipStep
from fillmark.engine.picture import picture
from fillmark.engine.report import Report
from fillmark.engine.stages.charging import charging_report
from fillmark.engine.stages.registry import STAGES
from fillmark.engine.steps import MAY_FOLLOW, Step, StepRecord, last_done, missed_before


def step_report(course: Course) -> Report | None:
    """What the step in progress has shown so far; None where no step is in progress."""
    if course.step is None:
        return None
    if course.stage is not None:
        return course.stage.report(course)
    return charging_report(picture(course, course.time_s)) if course.step is Step.CHARGING else None


def _step(name: str) -> Step:
    if name not in set(Step):
        raise ActionRefusedError("unknown-step", "step", f"{name!r} is none of {', '.join(Step)}")
    return Step(name)


def _begin(course: Course, event: BeginStep) -> Course:
    if course.step is not None:
        raise ActionRefusedError("step-in-progress", "step", f"the step {course.step} is in progress; end it first")
    step = _step(event.step)
    before = last_done(course.steps)
    if before is not None and before not in MAY_FOLLOW[step]:
        fit = ", ".join(sorted(one for one in Step if before in MAY_FOLLOW[one]))
        raise ActionRefusedError("step-order", "step", f"{step} may not follow {before}; after it may come {fit}")
    missed = missed_before(step, course.steps)
    if missed and not event.reason:
        names = " and ".join(missed)
        raise ActionRefusedError(
            "step-missed", "reason", f"{names} was neither done nor skipped; do it, skip it, or give a reason here"
        )
    make = STAGES.get(step)
    record = StepRecord(step, event.time_s, reason=event.reason)
    stage = None if make is None else make(course, event)
    return replace(course, step=step, steps=(*course.steps, record), stage=stage)


def _end(course: Course, event: EndStep) -> Course:
    if course.step is None:
        raise ActionRefusedError("no-step", "type", "no step is in progress; begin one first")
    if course.stage is not None:
        course = replace(course, stage=course.stage.ended(course))
    ended = replace(course.steps[-1], ended_s=event.time_s, report=step_report(course))
    return replace(course, step=None, steps=(*course.steps[:-1], ended), stage=None)


def _skip(course: Course, event: SkipStep) -> Course:
    if course.step is not None:
        raise ActionRefusedError("step-in-progress", "step", f"the step {course.step} is in progress; end it first")
    record = StepRecord(_step(event.step), event.time_s, event.time_s, event.reason, skipped=True)
    return replace(course, steps=(*course.steps, record))


def _pump(course: Course, event: SetPump) -> Course:
    return replace(course, pump_running=event.running)


def _oil(course: Course, event: MoveOil) -> Course:
    return replace(course, oil=course.oil.moved(event.volume_m3))


def _replaced(course: Course, event: ReplaceComponent) -> Course:
    return replace(course, oil=course.oil.with_part(event.component, event.oil_m3))


STEP_FOLDS: Mapping[type, Callable[[Course, Any], Course]] = {
    BeginStep: _begin,
    EndStep: _end,
    SkipStep: _skip,
    SetPump: _pump,
    MoveOil: _oil,
    ReplaceComponent: _replaced,
}
