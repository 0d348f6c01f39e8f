"""Which stage serves which step. Charging has none: the course itself is its state."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from fillmark.engine.stages.evacuation import EVACUATION
from fillmark.engine.stages.performance import PerformanceStage, static_of
from fillmark.engine.stages.pressure_test import PRESSURE_TEST
from fillmark.engine.stages.recovery import RecoveryStage
from fillmark.engine.stages.series_stage import SeriesStage
from fillmark.engine.stages.stage import Stage
from fillmark.engine.stages.vacuum_hold import VACUUM_HOLD
from fillmark.engine.steps import Step

if TYPE_CHECKING:
    from fillmark.engine.course import Course
    from fillmark.engine.events import BeginStep


def _recovery(course: Course, event: BeginStep) -> Stage:
    given = event.target_abs_pa
    return RecoveryStage(course.barometer().pressure_pa if given is None else given)


STAGES: Mapping[Step, Callable[[Course, BeginStep], Stage]] = {
    Step.RECOVERY: _recovery,
    Step.PRESSURE_TEST: lambda _course, event: SeriesStage(PRESSURE_TEST, event.target_abs_pa),
    Step.EVACUATION: lambda _course, event: SeriesStage(EVACUATION, event.target_abs_pa),
    Step.VACUUM_HOLD: lambda _course, event: SeriesStage(VACUUM_HOLD, event.target_abs_pa),
    Step.PERFORMANCE_TEST: lambda course, _event: PerformanceStage(static=static_of(course)),
}
