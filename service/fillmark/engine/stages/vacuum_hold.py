"""The vacuum hold: the pump shut off, the gauge watched, and the shapes that its rise can have compared."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

from fillmark.engine.events import Fact, SetValve
from fillmark.engine.report import Number, Report
from fillmark.engine.stages.series_stage import (
    SeriesStage,
    Watch,
    coldest_k,
    gauge_of,
    short,
    volume_of,
)
from fillmark.engine.vacuum.hold import judge
from fillmark.engine.vacuum.hold_types import Hold, HoldSetup, HoldTooShortError, Verdict
from fillmark.engine.vacuum.leak_rate import refrigerant_equivalent
from fillmark.engine.vacuum.series import Sample
from fillmark.refrigerants.protocol import OutOfRangeError

if TYPE_CHECKING:
    from fillmark.engine.course import Course

CHANNEL = "vacuum/pressure"
NO_GAUGE = Report(
    verdict="undecided", next=("the gauge never changes and its resolution is not declared: declare it in the job",)
)


def vacuum_channel(course: Course) -> str | None:
    """The vacuum gauge, once it has spoken."""
    return CHANNEL if CHANNEL in course.latest else None


def _judge(samples: Sequence[Sample], course: Course, stage: SeriesStage) -> Report | None:
    del stage
    gauge = gauge_of(course, samples)
    if gauge is None:
        return NO_GAUGE
    setup = HoldSetup(gauge, volume_of(course), coldest_k(course), atmosphere_pa=course.barometer().pressure_pa)
    try:
        hold = judge(samples, setup)
    except HoldTooShortError:
        return None
    told = replace(hold.finding, measured=(*hold.finding.measured, *_equivalent(hold, course)))
    return Report.of(told, str(hold.verdict), _numbers(hold))


def _equivalent(hold: Hold, course: Course) -> tuple[str, ...]:
    """What a leak that was found would pass of the circuit's refrigerant, with its caution."""
    if hold.q_pa_m3_s is None or hold.verdict not in {Verdict.LEAKING, Verdict.BOTH}:
        return ()
    try:
        return (refrigerant_equivalent(hold.q_pa_m3_s, course.setup.circuit.refrigerant).sentence,)
    except OutOfRangeError:
        return ()


def _numbers(hold: Hold) -> dict[str, Number]:
    q = hold.q_pa_m3_s
    return {
        "duration_s": round(hold.duration_s, 1),
        "start_pa": short(hold.start_pa),
        "rise_pa": short(hold.rise_pa.value),
        "rise_u_pa": short(hold.rise_pa.u),
        "thermal_rise_pa": short(hold.thermal_rise_pa.value),
        "slope_pa_s": short(hold.slope_pa_s.value),
        "slope_u_pa_s": short(hold.slope_pa_s.u),
        "q_pa_m3_s": None if q is None else short(q.value),
        "q_u_pa_m3_s": None if q is None else short(q.u),
        "detected": hold.detected,
        "limit_q_pa_m3_s": short(hold.limit_q_pa_m3_s),
        "ceiling_pa": short(hold.ceiling_pa),
        "vapour_rise_pa": short(hold.vapour_rise_pa),
        "wanted_hold_s": short(hold.wanted_hold_s),
    }


def _pump_is_off(course: Course) -> bool:
    return not course.valves.get("vacuum", False)


def _pump_was_shut_off(fact: Fact) -> bool:
    return isinstance(fact, SetValve) and fact.valve == "vacuum" and not fact.open


VACUUM_HOLD = Watch(vacuum_channel, _judge, _pump_is_off, _pump_was_shut_off)
