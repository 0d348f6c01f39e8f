"""What valves and pressures do to the pan: they let refrigerant flow, slow it, end it or turn it.

What was pending is decided before.

People turn a valve and enter it a little later, or a little before.
"""

from __future__ import annotations

import math
from dataclasses import replace

from fillmark.engine.weighing import suspicion
from fillmark.engine.weighing.estimate import RUSH_S
from fillmark.engine.weighing.line import Line
from fillmark.engine.weighing.pan import RUSH_SHARE, SLOW_PUSH_KG, TAPPED_LATE_S, Pan
from fillmark.engine.weighing.path import Path
from fillmark.engine.weighing.trend import Swerve

LEAST_LAG_S = 1e-3
FORWARD_KG_S = 0.3e-3
RETURNED_SURGE_S = 15.0
"""A flow that was no more forward than that may grow for so long once the pressures have turned. Judged."""


def enter(pan: Pan, path: Path, time_s: float, ended_s: float | None = None) -> Pan:
    """The same pan once the valves allow `path` from `time_s` on.

    `ended_s`: when the circuit had been shut before. The flow ended then, and the lag has less of it left to show.
    """
    if path is pan.path:
        return pan
    if path is Path.OPEN:
        # What does not fit in the last moment is flow: people turn the valve and enter it a little later.
        fed_s = time_s + RUSH_S if pan.path is Path.HANDLED else pan.fed_s
        return loosened(replace(pan, suspects=(), path=path, path_since_s=time_s, fed_s=fed_s).at(time_s), time_s)
    stood = pan.brought_to(time_s)
    moved = replace(stood, path=path, path_since_s=time_s, throttled_kg_s=math.inf, stillness=stood.stillness.anew())
    rests = _unseen(moved, time_s, var_flow=0.0, cov=0.0)
    if rests.estimate is None or ended_s is None:
        return rests
    left = math.exp(-max(time_s - ended_s, 0.0) / max(pan.lag_s, LEAST_LAG_S))
    return replace(rests, estimate=replace(rests.estimate, flow_kg_s=left * rests.estimate.flow_kg_s))


def let_stand(pan: Pan, time_s: float) -> Pan:
    """The pan as hands have left it before a valve was opened at `time_s`: a slow scale has not said it often."""
    stood = suspicion.at_rest(pan.suspects, time_s - TAPPED_LATE_S, pan.step_kg)
    if pan.path is not Path.HANDLED or not stood:
        return pan
    return replace(pan, suspects=stood).adopt(Line.through(stood), offset_kg=0.0, offset_u_kg=0.0)


def throttled(pan: Pan, time_s: float, *, ends: bool) -> Pan:
    """The same pan once a valve behind it was shut: the flow may have ended, though the container is open.

    `ends`: no other valve lets it go on, so that no more than what flowed can come to an end.
    """
    if pan.path is not Path.OPEN:
        return pan
    moved = pan.brought_to(time_s)
    slower = _unseen(moved, time_s, var_flow=moved.flow_kg_s**2, cov=None)
    return replace(slower, throttled_kg_s=max(moved.flow_kg_s, 0.0)) if ends else slower


def ran_out(pan: Pan, time_s: float) -> Pan:
    """The same pan once the container ought to hold nothing that flows fast: the flow ends, unless readings go on."""
    moved = throttled(pan, time_s, ends=False)
    if moved.path is not Path.OPEN or moved.estimate is None:
        return moved
    return replace(moved, estimate=replace(moved.estimate, flow_kg_s=0.0))


def loosened(pan: Pan, time_s: float, clears_s: float = 0.0) -> Pan:
    """The same pan once a valve was opened: flow is uncertain again, and more so when the hose has cleared."""
    until_s = time_s + RUSH_S + clears_s
    known = pan.brought_to(time_s)
    stood_kg = known.pending_offset_kg if pan.unrest.is_seen else 0.0
    moved = replace(known, loosened_s=time_s, surges_until_s=until_s, throttled_kg_s=math.inf, stood_kg=stood_kg)
    if moved.path is not Path.OPEN or moved.estimate is None:
        return moved
    was, flow_u = moved.estimate, RUSH_SHARE * pan.fastest_kg_s
    early_u = flow_u * TAPPED_LATE_S
    return replace(
        moved,
        estimate=replace(
            was,
            var_mass=was.var_mass + early_u**2,
            cov=was.cov - flow_u * early_u,
            var_flow=was.var_flow + flow_u**2,
        ),
    )


def returning(pan: Pan, *, may_return: bool) -> Pan:
    """The same pan once the pressures say whether refrigerant may flow back: then no flow is too slow to be one.

    When a flow turns forward again, the container is warm of what it took back, and its refrigerant comes in a surge.
    """
    least = -pan.fastest_kg_s if may_return else 0.0
    if least == pan.least_kg_s or pan.estimate is None:
        return pan
    turns = not may_return and pan.path is Path.OPEN and pan.estimate.flow_kg_s < FORWARD_KG_S
    trend = pan.trend.afresh() if may_return or turns else pan.trend
    until_s = pan.estimate.time_s + RETURNED_SURGE_S if turns else -math.inf
    return replace(pan, least_kg_s=least, trend=trend, surges_until_s=max(pan.surges_until_s, until_s))


def came_back(pan: Pan, swerve: Swerve, *, leant_on: bool | None) -> Pan:
    """The same pan once a flow has its pace again: where something leant on the pan it never left it. None: unknown.

    That judgement may be wrong: ±2u reaches a flow that has swerved after all, see also `Pan.offset_doubt_kg`.
    """
    if leant_on is None:
        return pan
    missed_kg = abs(swerve.missed_kg)
    doubt_kg = missed_kg / math.sqrt(3.0) if missed_kg > SLOW_PUSH_KG else 0.0
    known = pan.pulled(doubt_kg, swerve.was) if leant_on else pan
    return replace(known, trend=known.trend.unpaused())


def _unseen(pan: Pan, time_s: float, *, var_flow: float, cov: float | None) -> Pan:
    """With the doubt of what flowed since the last reading, and of a tap that comes late or early."""
    was = pan.estimate
    if was is None:
        return pan
    unseen = was.flow_kg_s * (pan.unread_s(time_s) + TAPPED_LATE_S)
    return replace(
        pan,
        estimate=replace(
            was,
            var_mass=was.var_mass + unseen * unseen / 3.0,
            cov=was.cov if cov is None else cov,
            var_flow=0.0 if var_flow == 0.0 else max(was.var_flow, var_flow),
        ),
    )
