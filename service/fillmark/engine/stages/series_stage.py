"""A step that watches one pressure: evacuation, vacuum hold and pressure test.

What differs between them is a `Watch`: which channel, when it counts, and how a series of it is judged. A judgement
costs tens of milliseconds, so it is made anew only when enough has been seen since the last one, and at the end.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from fillmark.engine.hold_up import bore_volume_m3
from fillmark.engine.quantity import Quantity
from fillmark.engine.report import Report
from fillmark.engine.vacuum.gauge import Gauge
from fillmark.engine.vacuum.series import Sample, SampleRefusedError, Series

if TYPE_CHECKING:
    from fillmark.engine.course import Course
    from fillmark.engine.events import Fact, Reading

JUDGE_EVERY_S = 20.0
JUDGE_EVERY_SHARE = 0.1
VOLUME_SHARE_U = 0.1
"""A circuit's internal volume is rarely known better. Common practice, no source."""

GAS_CHANNELS = ("suction/temperature", "ambient/temperature")
COLD_CHANNELS = ("suction/temperature", "vent/temperature", "liquid/temperature", "ambient/temperature")
TOO_LITTLE = Report(verdict="undecided", next=("wait: too little has been seen yet",))


@dataclass(frozen=True, slots=True)
class Watch:
    """How one step watches a pressure.

    Attributes:
        channel: the channel to follow; None: none of them speaks.
        judge: a report on the samples, or None where they are too few.
        counts: whether a pressure (Pa, absolute) belongs to what is judged.
        anew: whether something done begins the series anew.
    """

    channel: Callable[[Course], str | None]
    judge: Callable[[Sequence[Sample], Course, SeriesStage], Report | None]
    counts: Callable[[Course], bool]
    anew: Callable[[Fact], bool]


@dataclass(frozen=True, slots=True)
class SeriesStage:
    """State of such a step. `judged` is the last report, made at `judged_s`; `target_pa` as given at its beginning."""

    watch: Watch
    target_pa: float | None = None
    series: Series = field(default_factory=Series)
    judged: Report | None = None
    judged_s: float | None = None

    def read(self, course: Course, reading: Reading) -> SeriesStage:
        """Take a reading of the watched channel."""
        if reading.channel != self.watch.channel(course) or not self.watch.counts(course):
            return self
        pressure = course.pressure_abs_pa(reading.channel)
        if pressure is None:
            return self
        try:
            series = self.series.add(reading.time_s, pressure, gas_temperature_k(course))
        except SampleRefusedError:
            return self
        wait = max(JUDGE_EVERY_S, JUDGE_EVERY_SHARE * series.duration_s)
        stage = replace(self, series=series)
        return stage.ended(course) if self.judged_s is None or reading.time_s - self.judged_s >= wait else stage

    def acted(self, course: Course, fact: Fact) -> SeriesStage:
        """Begin anew where what was done asks for it."""
        del course
        return SeriesStage(self.watch, self.target_pa) if self.watch.anew(fact) else self

    def ended(self, course: Course) -> SeriesStage:
        """The stage with a judgement of all that was seen."""
        newest = self.series.newest
        if newest is None:
            return self
        report = self.watch.judge(self.series.samples, course, self)
        return replace(self, judged=report or self.judged, judged_s=newest.time_s)

    def report(self, course: Course) -> Report:
        """The last judgement; why there is none where the gauge is silent or shows what cannot be."""
        channel = self.watch.channel(course)
        if self.judged is None and channel is None:
            return Report(verdict="unknown", next=("no gauge speaks for this step: connect one",))
        refused = None if channel is None else course.refused_pressure(channel)
        if refused is not None and self.judged is None:
            return Report(verdict="undecided", next=(refused,))
        return self.judged or TOO_LITTLE


def short(value: float | None) -> float | None:
    """Four significant digits."""
    return None if value is None else float(f"{value:.4g}")


def gas_temperature_k(course: Course) -> float | None:
    """Temperature of the gas in the circuit, as near as a probe is to it; None: no probe."""
    return next((t for t in map(course.temperature_k, GAS_CHANNELS) if t is not None), None)


def coldest_k(course: Course) -> float | None:
    """Coldest temperature that any probe on the circuit has; None: no probe."""
    return min((t for t in map(course.temperature_k, COLD_CHANNELS) if t is not None), default=None)


def volume_of(course: Course) -> Quantity | None:
    """Volume that holds the gas: circuit and hose. None: the circuit's is not declared."""
    circuit = course.setup.circuit.volume_m3
    if circuit is None:
        return None
    hose = 0.0 if course.setup.hose is None else bore_volume_m3(course.setup.hose)
    return Quantity(circuit + hose, VOLUME_SHARE_U * circuit)


def gauge_of(course: Course, samples: Sequence[Sample]) -> Gauge | None:
    """The vacuum gauge as declared, or else with the step that its own readings show. None: neither."""
    declared = course.setup.vacuum_gauge
    if declared is not None:
        return Gauge(declared.resolution_pa, "compound" if declared.compound else "absolute")
    return shown_gauge(samples)


def shown_gauge(samples: Sequence[Sample]) -> Gauge | None:
    """A gauge whose step is the smallest difference that its readings show; None: they never change."""
    levels = sorted({sample.pressure_pa for sample in samples})
    steps = [high - low for low, high in itertools.pairwise(levels) if high - low > LEAST_STEP_PA]
    return Gauge(min(steps)) if steps else None


LEAST_STEP_PA = 0.01
"""Differences below it are arithmetic, not a digit."""
