"""Which stage serves which step. Charging has none: the course itself is its state."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from fillmark.engine.stages.evacuation import EVACUATION
from fillmark.engine.stages.performance import PerformanceStage, static_of
from fillmark.engine.stages.pressure_test import PRESSURE_TEST
from fillmark.engine.stages.recovery import RecoveryStage
from fillmark.engine.stages.series_stage import SeriesStage, Watch
from fillmark.engine.stages.stage import Stage
from fillmark.engine.stages.vacuum_hold import VACUUM_HOLD
from fillmark.engine.steps import Step

if TYPE_CHECKING:
    from fillmark.engine.course import Course
    from fillmark.engine.events import BeginStep


def _recovery(course: Course, event: BeginStep) -> Stage:
    given = event.target_abs_pa
    return RecoveryStage(course.barometer().pressure_pa if given is None else given)


def _watching(watch: Watch) -> Callable[[Course, BeginStep], Stage]:
    return lambda _course, event: SeriesStage(watch, event.target_abs_pa)


WATCHES: Mapping[Step, Watch] = {
    Step.PRESSURE_TEST: PRESSURE_TEST,
    Step.EVACUATION: EVACUATION,
    Step.VACUUM_HOLD: VACUUM_HOLD,
}
"""Steps that watch one pressure, and how."""

STAGES: Mapping[Step, Callable[[Course, BeginStep], Stage]] = {
    Step.RECOVERY: _recovery,
    **{step: _watching(watch) for step, watch in WATCHES.items()},
    Step.PERFORMANCE_TEST: lambda course, _event: PerformanceStage(static=static_of(course)),
}
