"""The vacuum hold: the pump shut off, the gauge watched, and the shapes that its rise can have compared.

The judgement costs some tens of milliseconds, so it is made anew only when enough has been seen since the last one.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from fillmark.engine.events import SetValve
from fillmark.engine.hose import bore_volume_m3
from fillmark.engine.report import Number, Report
from fillmark.engine.vacuum.finding import Quantity
from fillmark.engine.vacuum.gauge import Gauge
from fillmark.engine.vacuum.hold import Hold, HoldSetup, HoldTooShortError, judge
from fillmark.engine.vacuum.series import SampleRefusedError, Series

if TYPE_CHECKING:
    from fillmark.engine.course import Course
    from fillmark.engine.events import Fact, Reading

JUDGE_EVERY_S = 20.0
JUDGE_EVERY_SHARE = 0.1
VOLUME_SHARE_U = 0.1
"""A circuit's internal volume is rarely known better. Common practice, no source."""

GAS_CHANNELS = ("suction/temperature", "ambient/temperature")
COLD_CHANNELS = ("suction/temperature", "vent/temperature", "liquid/temperature", "ambient/temperature")


def gas_temperature_k(course: Course) -> float | None:
    """Temperature of the gas in the circuit, as near as a probe is to it; None: no probe."""
    return next((t for t in map(course.temperature_k, GAS_CHANNELS) if t is not None), None)


def coldest_k(course: Course) -> float | None:
    """Coldest temperature that any probe on the circuit has; None: no probe."""
    return min((t for t in map(course.temperature_k, COLD_CHANNELS) if t is not None), default=None)


def volume_of(course: Course) -> Quantity | None:
    """Volume that holds the vacuum: circuit and hose. None: the circuit's is not declared."""
    circuit = course.setup.circuit.volume_m3
    if circuit is None:
        return None
    hose = 0.0 if course.setup.hose is None else bore_volume_m3(course.setup.hose)
    return Quantity(circuit + hose, VOLUME_SHARE_U * circuit)


def gauge_of(course: Course) -> Gauge | None:
    """The vacuum gauge as declared; None: not declared."""
    declared = course.setup.vacuum_gauge
    return None if declared is None else Gauge(declared.resolution_pa, "compound" if declared.compound else "absolute")


def added(series: Series, course: Course, reading: Reading) -> Series:
    """A pressure series with one more reading of the vacuum gauge; the same where it does not fit."""
    if reading.channel != "vacuum/pressure":
        return series
    pressure = course.pressure_abs_pa("vacuum/pressure")
    if pressure is None:
        return series
    try:
        return series.add(reading.time_s, pressure, gas_temperature_k(course))
    except SampleRefusedError:
        return series


@dataclass(frozen=True, slots=True)
class HoldStage:
    """State of a vacuum hold. `judged` is the last judgement, of `judged_s`; None: too little was seen."""

    series: Series = field(default_factory=Series)
    judged: Hold | None = None
    judged_s: float | None = None

    def read(self, course: Course, reading: Reading) -> HoldStage:
        """Take a reading of the gauge, unless the pump is still open to the circuit."""
        if course.valves.get("vacuum"):
            return self
        series = added(self.series, course, reading)
        if series is self.series:
            return self
        stage = replace(self, series=series)
        wait = max(JUDGE_EVERY_S, JUDGE_EVERY_SHARE * series.duration_s)
        due = self.judged_s is None or reading.time_s - self.judged_s >= wait
        return stage.with_judgement(course) if due else stage

    def acted(self, course: Course, fact: Fact) -> HoldStage:
        """Begin anew when the pump is shut off."""
        del course
        shut = isinstance(fact, SetValve) and fact.valve == "vacuum" and not fact.open
        return HoldStage() if shut else self

    def with_judgement(self, course: Course) -> HoldStage:
        """The stage with a judgement of all that was seen."""
        gauge = gauge_of(course)
        newest = self.series.newest
        if gauge is None or newest is None:
            return self
        try:
            judged = judge(self.series.samples, HoldSetup(gauge, volume_of(course), coldest_k(course)))
        except HoldTooShortError:
            return replace(self, judged_s=newest.time_s)
        return replace(self, judged=judged, judged_s=newest.time_s)

    def ended(self, course: Course) -> HoldStage:
        """The last judgement takes in all that was seen."""
        return self.with_judgement(course)

    def report(self, course: Course) -> Report:
        """The judgement, its doubt, and what this hold could have seen at all."""
        if gauge_of(course) is None:
            return Report(verdict="undecided", next=("declare the vacuum gauge and its resolution when opening a job",))
        hold = self.judged
        if hold is None:
            return Report(verdict="undecided", next=("wait: too little has been seen yet",))
        finding = hold.finding
        return Report(
            measured=finding.measured,
            proves=finding.proves,
            does_not_prove=finding.does_not_prove,
            next=(*finding.next, *finding.cautions),
            verdict=str(hold.verdict),
            numbers=_numbers(hold),
        )


def _numbers(hold: Hold) -> dict[str, Number]:
    q = hold.q_pa_m3_s
    return {
        "duration_s": round(hold.duration_s, 1),
        "start_pa": _short(hold.start_pa),
        "rise_pa": _short(hold.rise_pa.value),
        "rise_u_pa": _short(hold.rise_pa.u),
        "thermal_rise_pa": _short(hold.thermal_rise_pa.value),
        "slope_pa_s": _short(hold.slope_pa_s.value),
        "slope_u_pa_s": _short(hold.slope_pa_s.u),
        "q_pa_m3_s": None if q is None else _short(q.value),
        "q_u_pa_m3_s": None if q is None else _short(q.u),
        "detected": hold.detected,
        "limit_q_pa_m3_s": _short(hold.limit_q_pa_m3_s),
        "ceiling_pa": _short(hold.ceiling_pa),
        "approaches_pa": _short(hold.approaches_pa),
        "wanted_hold_s": _short(hold.wanted_hold_s),
    }


def _short(value: float | None) -> float | None:
    """Four significant digits."""
    return None if value is None else float(f"{value:.4g}")
