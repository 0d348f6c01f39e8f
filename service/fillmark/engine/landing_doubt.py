"""What the place where the charge lands leaves in doubt, beyond the charged mass itself (`budget`).

    landing = charged + flow · (age + way + reaction time) + after-run

* flow: it is not the same until the valve is shut (`weighing.trend`).
* reaction: the next one of this technician differs from the usual one.
* timing: the age of the indication is known only up to the clocks, and the way of the call to the display is assumed.
  A reaction that was learnt has that way in it, and its scatter.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fillmark.engine.budget import JUDGED_DOF, Term, combined_u_kg, probability_between
from fillmark.engine.job import Job
from fillmark.engine.weighing.trend import trend_u_kg

SOURCES = {
    "declared": "declared, scatter of a person",
    "learnt": "earlier closings of the technician",
    "assumed": "drivers who brake, Green 2000",
}


@dataclass(frozen=True, slots=True)
class Doubt:
    """What is in doubt of a landing.

    Attributes:
        terms: beyond those of the charged mass.
        u_kg: combined standard uncertainty, with those.
        probability_in_window: that who obeys the call lands in the window, 0 to 1.
    """

    terms: tuple[Term, ...]
    u_kg: float
    probability_in_window: float


def landing_doubt(job: Job) -> Doubt | None:
    """The doubt of a call made now; None while nothing can flow."""
    land, circuit = job.picture.landing, job.course.setup.circuit
    if land is None:
        return None
    terms = _terms(job, land.flow_kg_s)
    u_kg = combined_u_kg((*job.picture.budget, *terms))
    chance = probability_between(circuit.charge_min_kg, circuit.charge_max_kg, land.if_called_kg, u_kg)
    return Doubt(terms, u_kg, chance)


def _terms(job: Job, flow_kg_s: float) -> tuple[Term, ...]:
    delay, was, reaction = job.delay, job.course.pan.believed, job.course.setup.reaction
    until_s = delay.age_s(job.now_s, was.time_s) + delay.shut_after_s(reaction)
    changed_kg = trend_u_kg(was, was.time_s + until_s) if job.course.circuit_open else 0.0
    timing_s = math.hypot(delay.age_u_s, 0.0 if reaction.is_learnt else delay.way_u_s)
    assumed = reaction.source == "assumed"
    return (
        Term("flow", changed_kg, "pulse and cooling about its mean", dof=JUDGED_DOF),
        Term("reaction", flow_kg_s * reaction.u_s, SOURCES[reaction.source], assumed, dof=reaction.dof),
        Term("timing", flow_kg_s * timing_s, "delay of the indications", dof=JUDGED_DOF),
    )
