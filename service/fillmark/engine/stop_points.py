"""The stop points: one row each. The table is the rule; the documents are made from it.

Severity says how soon: `critical` act at once, `warning` act before going on, `notice` know it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from fillmark.engine import conditions, flow_conditions, silence, step_conditions
from fillmark.engine.conditions import Active, Findings
from fillmark.engine.picture import Picture

NO_SOURCE = "common practice, no source"
LABEL = "the circuit's label"


class Severity(StrEnum):
    """How soon the technician must act."""

    CRITICAL = "critical"
    WARNING = "warning"
    NOTICE = "notice"


class Scope(StrEnum):
    """When the condition is looked at; outside it the stop point is suppressed by design."""

    CHARGING = "charging"
    WEIGHING = "weighing"
    """Charging or recovery."""
    WORKING = "working"
    """Any step."""
    JOB = "job"


def _cleared(picture: Picture) -> str:
    del picture
    return "The condition is over."


def _at_once(picture: Picture) -> float:
    del picture
    return 0.0


@dataclass(frozen=True, slots=True)
class StopPoint:
    """One stop point.

    Attributes:
        id: stable name.
        severity: how soon to act.
        what: what to do, in one line.
        why: why it matters.
        source: where the rule comes from.
        condition: what must be seen.
        scope: when it is looked at.
        latching: whether it stays until somebody resets it.
        shelvable: whether it may be put aside; nothing that guards people may.
        cleared: the sentence for its end.
        off_delay_s: so long must the condition be over before the stop point is (IEC 62682, off-delay, from memory).
    """

    id: str
    severity: Severity
    what: str
    why: str
    source: str
    condition: Callable[[Picture, Active], Findings]
    scope: Scope = Scope.CHARGING
    latching: bool = False
    shelvable: bool = True
    cleared: Callable[[Picture], str] = _cleared
    off_delay_s: Callable[[Picture], float] = _at_once


def looked_at(scope: Scope, picture: Picture) -> bool:
    """Whether conditions of a scope are looked at now."""
    match scope:
        case Scope.CHARGING:
            return picture.charging
        case Scope.WEIGHING:
            return picture.weighing
        case Scope.WORKING:
            return picture.working
        case Scope.JOB:
            return True


_ROWS = (
    StopPoint(
        "close-valve-now",
        Severity.CRITICAL,
        "Close the valve that feeds the circuit.",
        "Reaction time, the scale's delay and the flow carry the charge on to the aim by themselves.",
        "flow times delay; the window is " + LABEL,
        conditions.close_valve_now,
        shelvable=False,
        cleared=conditions.why_call_withdrawn,
        off_delay_s=conditions.while_open(conditions.CALL_STAYS_S),
    ),
    StopPoint(
        "window-exceeded",
        Severity.CRITICAL,
        "Shut the valve and recover the excess by weight.",
        "An overcharged circuit runs at high pressure, cools badly and can flood the compressor.",
        LABEL,
        conditions.window_exceeded,
        latching=True,
        shelvable=False,
    ),
    StopPoint(
        "high-side-open-while-running",
        Severity.CRITICAL,
        "Shut the high-side valve.",
        "The running compressor presses into hose and container; a can bursts.",
        NO_SOURCE,
        conditions.high_side_open_while_running,
        Scope.JOB,
        shelvable=False,
    ),
    StopPoint(
        "liquid-to-low-side",
        Severity.CRITICAL,
        "Shut the low-side valve; draw vapour, or charge liquid through the high side with the engine off.",
        "Liquid cannot be compressed; it breaks valves and washes out the oil.",
        NO_SOURCE,
        conditions.liquid_to_low_side,
        Scope.JOB,
        shelvable=False,
    ),
    StopPoint(
        "high-pressure-limit",
        Severity.CRITICAL,
        "Stop the engine and let the pressure fall.",
        "Hoses and condenser are rated for the limit that label or manual gives.",
        "limit given by the user from label or service manual",
        conditions.high_pressure_limit,
        Scope.JOB,
        shelvable=False,
    ),
    StopPoint(
        "container-warming-limit",
        Severity.CRITICAL,
        "Take the heat away from the container.",
        "A container full of liquid bursts when it is warmed beyond its limit.",
        "Directive 75/324/EEC, 50 °C (from memory), or the limit given by the user",
        conditions.container_warming_limit,
        Scope.JOB,
        shelvable=False,
    ),
    StopPoint(
        "wrong-refrigerant-suspected",
        Severity.CRITICAL,
        "Shut the valve and identify the refrigerant.",
        "A refrigerant that does not belong there can be flammable, corrosive to seals, or too high in pressure.",
        "saturation pressure at ambient temperature; 5 K and 3 % allowed",
        conditions.wrong_refrigerant_suspected,
        shelvable=False,
    ),
    StopPoint(
        "reading-stale",
        Severity.CRITICAL,
        "Do not go by the value that stands still; shut the valve where the scale is silent.",
        "A frozen number looks like a true one.",
        "three times the channel's own interval, 3 s at least for the scale",
        silence.reading_stale,
        Scope.WORKING,
        shelvable=False,
    ),
    StopPoint(
        "unexplained-mass-step",
        Severity.CRITICAL,
        "Say what happened on the pan, or that it was refrigerant.",
        "Refrigerant leaves a container continuously; a step is a swap, a lift or a thing laid down.",
        "continuity of flow",
        conditions.unexplained_mass_step,
        Scope.WEIGHING,
        shelvable=False,
    ),
    StopPoint(
        "scale-overload",
        Severity.CRITICAL,
        "Shut the valve and unload the scale.",
        "Beyond its capacity a scale shows anything.",
        "capacity given by the user",
        conditions.scale_overload,
        Scope.JOB,
        shelvable=False,
    ),
    StopPoint(
        "blend-as-vapour",
        Severity.CRITICAL,
        "Shut the valve and turn the container so that liquid is drawn.",
        "From a zeotropic blend the light part leaves first; what comes into the circuit is another refrigerant.",
        "dew and bubble apart (ASHRAE 34, zeotropes, from memory)",
        step_conditions.blend_as_vapour,
        shelvable=False,
    ),
    StopPoint(
        "cylinder-fill-limit",
        Severity.CRITICAL,
        "Stop the recovery machine and change the cylinder.",
        "A cylinder full of liquid bursts when it warms.",
        "49 CFR 173.304(b): not full of liquid at 55 °C; R-744: 173.304a(a)(2)",
        step_conditions.cylinder_fill_limit,
        Scope.JOB,
        latching=True,
        shelvable=False,
    ),
    StopPoint(
        "test-pressure-limit",
        Severity.CRITICAL,
        "Shut the nitrogen and let the pressure down through the regulator's relief.",
        "The weakest component bursts first.",
        "limit given by the user",
        step_conditions.nitrogen_limit,
        Scope.JOB,
        shelvable=False,
    ),
    StopPoint(
        "gauge-reading-impossible",
        Severity.WARNING,
        "Check the gauge's zero, its unit and the barometer or altitude of this job.",
        "No vacuum is deeper than the atmosphere above it.",
        "absolute pressure is not negative",
        step_conditions.gauge_reading_impossible,
        Scope.JOB,
    ),
    StopPoint(
        "aim-reached",
        Severity.WARNING,
        "Keep the valve shut.",
        "The charge is where it was meant to be.",
        LABEL,
        conditions.aim_reached,
    ),
    StopPoint(
        "container-empty",
        Severity.WARNING,
        "Shut the container's valve and change the container.",
        "An empty can at low pressure takes refrigerant back.",
        "net mass given by the user less mass drawn",
        flow_conditions.container_empty,
    ),
    StopPoint(
        "flow-reversed",
        Severity.WARNING,
        "Shut the valve: refrigerant flows back.",
        "What is in the circuit grows less, and a container that takes refrigerant back can be overfilled.",
        "pressure of the circuit above the container's saturation pressure, and a rising indication",
        flow_conditions.flow_reversed,
        off_delay_s=conditions.while_open(flow_conditions.REVERSED_STAYS_S),
    ),
    StopPoint(
        "flow-stalled",
        Severity.WARNING,
        "Warm the container in water below 40 °C, or look for a shut valve.",
        "A can that boils off cools until its pressure is that of the circuit.",
        NO_SOURCE,
        flow_conditions.flow_stalled,
    ),
    StopPoint(
        "scale-disturbed",
        Severity.WARNING,
        "Take hand, hose and tools off the scale.",
        "What pulls or lies on the pan is weighed with the container.",
        "four standard deviations of the indication, three steps at least",
        conditions.scale_disturbed,
        Scope.WEIGHING,
    ),
    StopPoint(
        "scale-unsteady",
        Severity.WARNING,
        "Set the scale on firm ground, out of the draught.",
        "On a bench that shakes a pull and a flow look alike, and the mass is less sure.",
        "second differences of the indication",
        conditions.scale_unsteady,
        Scope.WEIGHING,
        off_delay_s=conditions.unsteady_stays_s,
    ),
    StopPoint(
        "low-pressure-limit",
        Severity.WARNING,
        "Stop the compressor or let vapour in.",
        "Below the atmosphere every leak draws air and moisture in, and the compressor lacks oil.",
        "barometric pressure, or the limit given by the user",
        conditions.low_pressure_limit,
        Scope.JOB,
    ),
    StopPoint(
        "hose-holds-liquid",
        Severity.WARNING,
        "Recover what the hose holds and weigh it before the hose is unscrewed.",
        "A hose of liquid holds tens of grams that burn skin and are missing in the circuit.",
        "bore, length and density of the liquid",
        conditions.hose_holds_liquid,
        Scope.JOB,
    ),
    StopPoint(
        "window-reached",
        Severity.NOTICE,
        "Go on to the aim.",
        "From here on the circuit holds what its label asks for.",
        LABEL,
        conditions.window_reached,
    ),
    StopPoint(
        "hose-not-declared",
        Severity.NOTICE,
        "Give length and bore of the hose.",
        "What the hose holds has left the container and is not in the circuit.",
        "design of the hose",
        conditions.hose_not_declared,
    ),
)

STOP_POINTS: Mapping[str, StopPoint] = {row.id: row for row in _ROWS}
"""By id, in order of precedence: the first active one is shown first."""
