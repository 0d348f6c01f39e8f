"""The evacuation: how the pressure falls, where to, and what holds it up.

The hose of the job is the one that charges; the pump has its own, declared with the pump.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from fillmark.engine.events import Fact
from fillmark.engine.report import Number, Report
from fillmark.engine.stages.series_stage import SeriesStage, Watch, coldest_k, gauge_of, short, volume_of
from fillmark.engine.stages.vacuum_hold import NO_GAUGE, vacuum_channel
from fillmark.engine.vacuum.pump_down import judge
from fillmark.engine.vacuum.pump_types import PumpDown, PumpDownTooShortError, PumpSetup
from fillmark.engine.vacuum.series import Sample

if TYPE_CHECKING:
    from fillmark.engine.course import Course


def _judge(samples: Sequence[Sample], course: Course, stage: SeriesStage) -> Report | None:
    gauge = gauge_of(course, samples)
    if gauge is None:
        return NO_GAUGE
    pump = course.setup.pump
    setup = PumpSetup(
        gauge,
        volume_of(course),
        coldest_k(course),
        stage.target_pa,
        pump.speed_m3_s,
        pump.ultimate_pa,
        pump.hose,
    )
    try:
        found = judge(samples, setup)
    except PumpDownTooShortError:
        return None
    return Report.of(found.finding, _verdict(found, stage.target_pa), _numbers(found, stage.target_pa))


def _verdict(found: PumpDown, target_pa: float | None) -> str:
    if target_pa is not None and found.pressure_pa <= target_pa:
        return "target reached"
    if found.causes:
        return ", ".join((*map(str, found.causes), *(("undecided",) if found.open_causes else ())))
    if not found.plateau_reached or found.falling:
        return "still falling"
    return "undecided" if found.open_causes else "at rest"


def _numbers(found: PumpDown, target_pa: float | None) -> dict[str, Number]:
    speed = found.effective_speed_m3_s
    return {
        "pressure_pa": short(found.pressure_pa),
        "duration_s": round(found.duration_s, 1),
        "plateau_pa": short(found.plateau_pa.value),
        "plateau_u_pa": short(found.plateau_pa.u),
        "tau_s": short(found.tau_s.value),
        "effective_speed_m3_s": None if speed is None else short(speed.value),
        "target_pa": short(target_pa),
        "to_target_s": short(found.to_target_s),
        "target_in_reach": found.target_in_reach,
        "boils": found.boils,
        "boils_below_k": short(found.boils_below_k),
        "open_causes": ", ".join(str(cause) for cause in found.open_causes) or None,
    }


def _pump_draws(course: Course) -> bool:
    return course.valves.get("vacuum", True) and course.pump_running is not False


def _never(fact: Fact) -> bool:
    del fact
    return False


EVACUATION = Watch(vacuum_channel, _judge, _pump_draws, _never)
