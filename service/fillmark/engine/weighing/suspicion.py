"""What a line of suspects can be: the questions that `pan.py` asks of readings outside the gate. Pure.

Masses kg, flows kg/s, times s. Masses are those that the scale shows, an offset included.
"""

from __future__ import annotations

import math
from itertools import pairwise

from fillmark.engine.weighing.estimate import Estimate
from fillmark.engine.weighing.line import CONFIRM_S, Line, Points, settled_line
from fillmark.engine.weighing.trend import BACKWARD_KG_S

GATE_STEPS = 3.0
ROSE_STEPS = 2.5
REST_HIDDEN_STEPS = 2.0
LINE_STEPS = 1.5
LIKE_SHARE = 0.15
"""A line falls like a flow if it is within so many steps over its span, and such a share."""

SETTLED_LAGS = 3.0
"""After so many time constants a lag of the first order has left 5 % of a step."""

TUG_KG = 60e-3
LET_GO_SHARE = 0.4
LET_GO_KG = 10e-3
"""A hose pulls so much at most. It may come back to within such a share of its pull, and so much, of where it was."""


def line_of(suspects: Points, settled_s: float, resolution_kg: float) -> Line | None:
    """What suspects lie on: those of the scale that has settled by then, if they are enough, else all of them."""
    later = tuple(one for one in suspects if one[0] >= settled_s)
    return settled_line(later, resolution_kg) or settled_line(suspects, resolution_kg)


def at_rest(suspects: Points, until_s: float, resolution_kg: float) -> Points:
    """The last suspects until then that stand still; none where they fall.

    What still rises was on its way. What falls by and by may be flow; a single low reading is a hand gone.
    """
    early = tuple(one for one in suspects if one[0] <= until_s)
    slack = LINE_STEPS * resolution_kg
    if not early or early[-1][1] < early[0][1] - slack:
        return ()
    while early[-1][1] > early[0][1] + slack:
        early = early[1:]
    return early


def _slack_kg(was: Estimate, resolution_kg: float) -> float:
    """What the gate hides anyway."""
    return GATE_STEPS * resolution_kg + 2.0 * math.sqrt(was.var_mass)


def rose(suspects: Points, shown: Estimate, resolution_kg: float) -> bool:
    """Whether two suspects in a row lie clearly above one before, or above what was shown and the gate's slack.

    No container that can only lose grows heavier.
    """
    rise_kg = ROSE_STEPS * resolution_kg
    lowest_kg = shown.mass_kg + _slack_kg(shown, resolution_kg) - rise_kg
    for (_, one_kg), (_, other_kg) in pairwise(suspects):
        lowest_kg = min(lowest_kg, one_kg)
        if min(one_kg, other_kg) - lowest_kg > rise_kg:
            return True
    return False


def freed(innovation_kg: float, offset_kg: float, resolution_kg: float) -> bool:
    """Whether an indication far off lies nearer to where it must be once an offset has gone."""
    return abs(innovation_kg) > GATE_STEPS * resolution_kg and abs(innovation_kg + offset_kg) < abs(innovation_kg)


def rises(line: Line) -> bool:
    """Whether the line is on its way up: what pulled lets go, or a hand begins to press."""
    return line.flow_kg_s < -BACKWARD_KG_S


def continues(line: Line, was: Estimate, first_s: float, flows: tuple[float, float], resolution_kg: float) -> bool:
    """Whether a change of flow alone, before the first suspect, leads from the estimate to the line.

    `flows`: the least and the fastest that can be.
    """
    if not min(flows[0], -BACKWARD_KG_S) <= line.flow_kg_s <= flows[1]:
        return False
    more = (line.flow_kg_s - was.flow_kg_s) * (first_s - was.time_s)
    slack = _slack_kg(was, resolution_kg)
    aside = line.at(was.time_s) - was.mass_kg
    return min(more, 0.0) - slack <= aside <= max(more, 0.0) + slack


def falls_on(line: Line, was: Estimate, first_s: float, fastest_kg_s: float, resolution_kg: float) -> bool:
    """Whether a container at rest has begun to fall: the gate hid the beginning of it, and the last digit."""
    if not -BACKWARD_KG_S <= line.flow_kg_s <= fastest_kg_s:
        return False
    slack = _slack_kg(was, resolution_kg) + REST_HIDDEN_STEPS * resolution_kg
    more = max(line.flow_kg_s, 0.0) * (first_s - was.time_s)
    return -slack - more <= line.at(was.time_s) - was.mass_kg <= slack


def uncovers(line: Line, ahead: Estimate, resolution_kg: float) -> bool:
    """Whether the line leads to where the mass, carried on to `ahead`, must be by now if an offset has gone."""
    return abs(line.at(ahead.time_s) - ahead.mass_kg) <= _slack_kg(ahead, resolution_kg)


def falls_like(line: Line, flow_kg_s: float, settled_s: float, resolution_kg: float) -> bool:
    """Whether the line is one of the scale that has settled by then, and falls like a flow."""
    blind = LINE_STEPS * resolution_kg / max(line.span_s, CONFIRM_S) + LIKE_SHARE * abs(flow_kg_s)
    return line.begins_s >= settled_s and abs(line.flow_kg_s - flow_kg_s) <= blind


def hidden_u_kg(offset_kg: float, u_kg: float, step_kg: float) -> float:
    """Doubt, kg, of an offset that seems to have let go: a small one may only be hidden by a shaking of that step."""
    return abs(offset_kg) / math.sqrt(3.0) if abs(offset_kg) <= GATE_STEPS * step_kg + 2.0 * u_kg else 0.0


def nil(offset_kg: float, u_kg: float, pulled_kg: float, resolution_kg: float) -> bool:
    """Whether an offset that would be left of one that pulled is none: what pulled has let go."""
    tug = min(LET_GO_SHARE * abs(pulled_kg), LET_GO_KG) if abs(pulled_kg) <= TUG_KG else 0.0
    return abs(offset_kg) <= max(GATE_STEPS * resolution_kg + 2.0 * u_kg, tug)
