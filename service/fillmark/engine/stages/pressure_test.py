"""The standing test with dry nitrogen: pressure over temperature stays, or it leaks.

The test counts from the last nitrogen that was let in (`vacuum/standing.py`). It ends when the nitrogen is let off,
which no leak does that fast.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from fillmark.engine.atmosphere import Barometer
from fillmark.engine.events import Fact
from fillmark.engine.quantity import Quantity
from fillmark.engine.report import Number, Report
from fillmark.engine.stages.series_stage import SeriesStage, Watch, short, shown_gauge, volume_of
from fillmark.engine.vacuum.gauge import Gauge
from fillmark.engine.vacuum.hold_types import HoldTooShortError
from fillmark.engine.vacuum.pressure_hold import (
    CAUTIONS,
    DRIFT_U_K,
    OverLimitError,
    PressureHold,
    PressureSetup,
    judge,
)
from fillmark.engine.vacuum.series import Sample
from fillmark.engine.vacuum.standing import stands_from

if TYPE_CHECKING:
    from fillmark.engine.course import Course

CHANNELS = ("low/pressure", "high/pressure")
WANTED_PA_S = 10e3 / 1800.0
"""A fall of 0.1 bar in half an hour is the least that the test should exclude. Common practice, no source."""

LET_OFF_SHARE = 0.9
BEFORE = Report(verdict="undecided", next=(*CAUTIONS, "then shut the nitrogen and wait"))


def _channel(course: Course) -> str | None:
    return next((channel for channel in CHANNELS if channel in course.latest), None)


def judged_from(
    samples: Sequence[Sample], air: Barometer, volume_m3: Quantity | None, weakest_pa: float | None = None
) -> tuple[PressureHold, float]:
    """The judgement of `samples` (absolute) from the last nitrogen on, and how long after the first one that was, s.

    Raises:
        HoldTooShortError: too little since then.
        OverLimitError: a sample lies above the weakest component's limit (gauge, Pa).
    """
    gauge = shown_gauge(samples) or Gauge(UNKNOWN_STEP_PA)
    standing = samples[stands_from(samples, gauge, DRIFT_U_K) :]
    if not standing:
        raise HoldTooShortError("nitrogen comes in; shut it and wait")
    kept = [s for s in standing if s.pressure_pa >= LET_OFF_SHARE * standing[0].pressure_pa]
    above_air = [Sample(s.time_s, s.pressure_pa - air.pressure_pa, s.temperature_k) for s in kept]
    found = judge(above_air, PressureSetup(gauge, air, WANTED_PA_S, volume_m3, weakest_pa))
    return found, standing[0].time_s - samples[0].time_s


def _judge(samples: Sequence[Sample], course: Course, stage: SeriesStage) -> Report | None:
    del stage
    air, limit = course.barometer(), course.setup.limits.test_pressure_abs_pa
    weakest_pa = None if limit is None else limit - air.pressure_pa
    try:
        found, after_s = judged_from(samples, air, volume_of(course), weakest_pa)
    except HoldTooShortError:
        return BEFORE
    except OverLimitError as error:
        return Report(verdict="over the limit", next=(str(error), *CAUTIONS))
    finding = found.finding
    if after_s > 0.0:
        finding = replace(finding, measured=(_counts_from(after_s), *finding.measured))
    return Report.of(finding, str(found.verdict), _numbers(found))


def _counts_from(after_s: float) -> str:
    return f"Nitrogen came in until {after_s / 60.0:.1f} min after the first reading; the test counts from then."


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


PRESSURE_TEST = Watch(_channel, _judge, _always, _never)
