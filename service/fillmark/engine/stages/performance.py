"""The performance test: a running circuit watched until it stands still, then weighed against what it may suffer from.

Before the compressor first runs, the static pressure is compared with saturation at ambient: identity and air.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from fillmark.engine.events import SetEngine
from fillmark.engine.performance.conditions import STATIONARY, VEHICLE
from fillmark.engine.performance.report import PerformanceReport, performance_report
from fillmark.engine.performance.static import StaticCheck, static_check
from fillmark.engine.performance.values import ZERO_CELSIUS_K, Probes
from fillmark.engine.performance.watch import Watch
from fillmark.engine.quantity import Quantity
from fillmark.engine.report import Number, Report

if TYPE_CHECKING:
    from fillmark.engine.course import Course
    from fillmark.engine.events import Fact, Reading

EQUAL_SHARE = 0.03
"""Sides that differ by less are equal: the circuit has stood."""


def static_of(course: Course) -> StaticCheck | None:
    """The static check, where the circuit stands and has not run in this job; None where it cannot be made."""
    low, high = course.pressure_abs_pa("low/pressure"), course.pressure_abs_pa("high/pressure")
    if course.engine_running or course.engine_ran or low is None or high is None:
        return None
    if abs(high - low) > EQUAL_SHARE * high:
        return None
    ambient = course.temperature_k("ambient/temperature")
    return static_check(course.setup.circuit.refrigerant, (low + high) / 2.0, ambient, Probes())


@dataclass(frozen=True, slots=True)
class PerformanceStage:
    """State of a performance test: what was read since the engine was started, and the check before that."""

    watch: Watch = field(default_factory=Watch)
    static: StaticCheck | None = None

    def read(self, course: Course, reading: Reading) -> PerformanceStage:
        """Take a reading in SI, absolute; while the circuit stands, keep the static check up to date."""
        if course.engine_running is False:
            return replace(self, static=static_of(course) or self.static)
        value = _si(course, reading)
        return self if value is None else replace(self, watch=self.watch.take(reading.time_s, reading.channel, value))

    def acted(self, course: Course, fact: Fact) -> PerformanceStage:
        """Begin anew when the engine is started."""
        del course
        started = isinstance(fact, SetEngine) and fact.running
        return replace(self, watch=Watch()) if started else self

    def result(self, course: Course) -> PerformanceReport:
        """The whole result."""
        circuit = course.setup.circuit
        return performance_report(
            circuit.refrigerant,
            self.watch,
            barometer_pa=course.barometer().pressure_pa,
            static=self.static,
            layouts=STATIONARY if circuit.stationary else VEHICLE,
        )

    def ended(self, course: Course) -> PerformanceStage:
        """Nothing is left to be reckoned."""
        del course
        return self

    def report(self, course: Course) -> Report:
        """The result for the job's record."""
        found = self.result(course)
        return Report.of(found.finding, _verdict(found), _numbers(found))


def _si(course: Course, reading: Reading) -> float | None:
    kind = reading.channel.rpartition("/")[2]
    if kind == "pressure":
        return course.pressure_abs_pa(reading.channel)
    if kind == "temperature":
        return reading.value + ZERO_CELSIUS_K
    return reading.value / 100.0 if kind == "humidity" else None


def _verdict(found: PerformanceReport) -> str:
    diagnosis = found.diagnosis
    if diagnosis.condition is not None:
        return str(diagnosis.condition) if found.settled else f"preliminary: {diagnosis.condition}"
    if diagnosis.candidates:
        return "undecided between " + " and ".join(str(one) for one in diagnosis.candidates[:3])
    return "not enough data"


def _numbers(found: PerformanceReport) -> dict[str, Number]:
    seen = found.cycle
    quantities: dict[str, Quantity | None] = {
        "evaporating_k": seen.evaporating,
        "condensing_k": seen.condensing,
        "superheat_k": seen.superheat,
        "subcooling_k": seen.subcooling,
        "condensing_over_ambient_k": seen.over_ambient,
        "pressure_ratio": seen.pressure_ratio,
        "vent_allowed_k": None if found.allowed is None else found.allowed.vent,
    }
    numbers: dict[str, Number] = {"settled": found.settled, "vent_k": _rounded(seen.given.vent_k)}
    for name, value in quantities.items():
        numbers[name] = None if value is None else round(value.value, 2)
        numbers[f"{name}_u"] = None if value is None else round(value.u, 2)
    numbers["cycles_per_min"] = _rounded(found.rhythm.rate_per_min)
    numbers["duty"] = _rounded(found.rhythm.duty)
    for condition, odds in found.diagnosis.odds:
        numbers[f"odds: {condition}"] = round(odds, 4)
    return numbers


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 2)
