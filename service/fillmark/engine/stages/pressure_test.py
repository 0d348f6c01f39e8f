"""The standing test with dry nitrogen: pressure over temperature stays, or it leaks.

The test begins when the pressure has stopped rising: nitrogen that is let in begins it anew. It ends when the nitrogen
is let off, which no leak does that fast.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from fillmark.engine.events import Fact
from fillmark.engine.report import Number, Report
from fillmark.engine.stages.series_stage import SeriesStage, Watch, short, shown_gauge, volume_of
from fillmark.engine.vacuum.gauge import Gauge
from fillmark.engine.vacuum.hold_types import HoldTooShortError
from fillmark.engine.vacuum.pressure_hold import CAUTIONS, OverLimitError, PressureHold, PressureSetup, judge
from fillmark.engine.vacuum.series import Sample, Series

if TYPE_CHECKING:
    from fillmark.engine.course import Course

CHANNELS = ("low/pressure", "high/pressure")
WANTED_PA_S = 10e3 / 1800.0
"""A fall of 0.1 bar in half an hour is the least that the test should exclude. Common practice, no source."""

RISE_SHARE = 0.004
LET_OFF_SHARE = 0.9
BEFORE = Report(verdict="undecided", next=(*CAUTIONS, "then shut the nitrogen and wait"))


def _channel(course: Course) -> str | None:
    return next((channel for channel in CHANNELS if channel in course.latest), None)


def _judge(samples: Sequence[Sample], course: Course, stage: SeriesStage) -> Report | None:
    del stage
    air = course.barometer()
    kept = [s for s in samples if s.pressure_pa >= LET_OFF_SHARE * samples[0].pressure_pa]
    gauge_readings = [Sample(s.time_s, s.pressure_pa - air.pressure_pa, s.temperature_k) for s in kept]
    limit = course.setup.limits.test_pressure_abs_pa
    setup = PressureSetup(
        shown_gauge(kept) or Gauge(UNKNOWN_STEP_PA),
        air,
        WANTED_PA_S,
        volume_of(course),
        None if limit is None else limit - air.pressure_pa,
    )
    try:
        found = judge(gauge_readings, setup)
    except HoldTooShortError:
        return BEFORE
    except OverLimitError as error:
        return Report(verdict="over the limit", next=(str(error), *CAUTIONS))
    return Report.of(found.finding, str(found.verdict), _numbers(found))


UNKNOWN_STEP_PA = 1000.0
"""Step of a pressure probe that never changed while it was watched. Common practice, no source."""


def _numbers(found: PressureHold) -> dict[str, Number]:
    q = found.q_pa_m3_s
    return {
        "duration_s": round(found.duration_s, 1),
        "start_abs_pa": short(found.start_abs_pa),
        "fall_pa": short(found.fall_pa.value),
        "fall_u_pa": short(found.fall_pa.u),
        "compensated": found.compensated,
        "thermal_fall_pa": short(found.thermal_fall_pa),
        "q_pa_m3_s": None if q is None else short(q.value),
        "q_u_pa_m3_s": None if q is None else short(q.u),
        "limit_q_pa_m3_s": short(found.limit_q_pa_m3_s),
    }


def _always(course: Course) -> bool:
    del course
    return True


def _never(fact: Fact) -> bool:
    del fact
    return False


def _nitrogen_comes_in(series: Series, pressure_pa: float) -> bool:
    newest = series.newest
    return newest is not None and pressure_pa > newest.pressure_pa * (1.0 + RISE_SHARE)


PRESSURE_TEST = Watch(_channel, _judge, _always, _never, _nitrogen_comes_in)
