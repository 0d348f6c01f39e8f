"""The performance test as a whole: from a watch over the running circuit to a result for people."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fillmark.engine.performance.conditions import STATIONARY, VEHICLE, Layout
from fillmark.engine.performance.cycle import Cycle, cycle
from fillmark.engine.performance.cycling import Rhythm
from fillmark.engine.performance.diagnosis import Diagnosis, diagnose
from fillmark.engine.performance.static import StaticCheck
from fillmark.engine.performance.values import Probes
from fillmark.engine.performance.vent import STATIONARY_RULE, VEHICLE_RULE, Expected, expected
from fillmark.engine.performance.watch import Watch
from fillmark.engine.report import NOTHING_SAID, Finding
from fillmark.refrigerants.protocol import Refrigerant

UNSETTLED = "The readings still drifted, so the odds are preliminary."
LET_RUN = "Let it run until the readings stand still for two minutes, then judge again."


@dataclass(frozen=True, slots=True)
class PerformanceReport:
    """Everything that the performance test found.

    Attributes:
        settled: whether the readings stood still; a diagnosis of an unsettled circuit is only preliminary.
        finding: of the diagnosis and of the static check together, and what the unsettled circuit leaves open.
        allowed: what ambient and humidity allow. None: ambient unknown.
    """

    cycle: Cycle
    allowed: Expected | None
    rhythm: Rhythm
    settled: bool
    static: StaticCheck | None
    diagnosis: Diagnosis
    finding: Finding


def performance_report(
    refrigerant: Refrigerant,
    watch: Watch,
    *,
    barometer_pa: float = 101325.0,
    probes: Probes | None = None,
    static: StaticCheck | None = None,
    layouts: Sequence[Layout] = VEHICLE,
) -> PerformanceReport:
    """Judge a running circuit by what was read of it. Never raises.

    Args:
        refrigerant: of the circuit.
        watch: readings since the engine was started.
        barometer_pa: atmospheric pressure where it is not read.
        probes: uncertainties; the usual ones where None.
        static: result of the static check before start, if it was made.
        layouts: what the circuit may be; one where it is known. All of vehicles, or all of rooms.
    """
    probes = probes or Probes()
    given = watch.given(barometer_pa)
    seen = cycle(refrigerant, given, probes)
    room = all(layout in STATIONARY for layout in layouts)
    allowed = expected(given, probes, STATIONARY_RULE if room else VEHICLE_RULE)
    rhythm = watch.cycling.rhythm()
    diagnosis = diagnose(refrigerant, seen, allowed, rhythm=rhythm, static=static, layouts=layouts)
    settled = watch.settled()
    finding = _together(diagnosis.finding, None if static is None else static.finding, settled=settled)
    return PerformanceReport(seen, allowed, rhythm, settled, static, diagnosis, finding)


def _together(diagnosis: Finding, static: Finding | None, *, settled: bool) -> Finding:
    before = static or NOTHING_SAID
    drifting = () if settled else (UNSETTLED,)
    return Finding(
        measured=(*before.measured, *diagnosis.measured),
        proves=(*before.proves, *diagnosis.proves),
        does_not_prove=(*drifting, *diagnosis.does_not_prove, *before.does_not_prove),
        next=(*((LET_RUN,) if drifting else ()), *diagnosis.next),
    )
