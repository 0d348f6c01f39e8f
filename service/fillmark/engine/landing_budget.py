"""What the place where the charge lands leaves in doubt, beyond the charged mass itself (`budget`).

    landing = charged + flow · (age + way + reaction time) + after-run

* flow: it is not the same until the valve is shut (`weighing.trend`).
* reaction: the next one of this technician differs from the usual one.
* timing: the age of the indication is known only up to the clocks, and the way of the call to the display is assumed.
  A reaction that was learnt has that way in it, and its scatter.
"""

from __future__ import annotations

import math

from fillmark.engine.budget import JUDGED_DOF, Term, combined_u_kg, probability_between
from fillmark.engine.job import Job
from fillmark.engine.weighing.trend import trend_u_kg

SOURCES = {
    "declared": "declared, scatter of a person",
    "learnt": "earlier closings of the technician",
    "assumed": "drivers who brake, Green 2000",
}


def landing_terms(job: Job) -> tuple[Term, ...]:
    """The terms for a call made now; nothing while nothing can flow."""
    if job.picture.landing is None:
        return ()
    course, delay, was = job.course, job.delay, job.course.pan.believed
    reaction = course.setup.reaction
    flow = course.inflow_kg_s(job.now_s)
    until_s = delay.age_s(job.now_s, was.time_s) + delay.shut_after_s(reaction)
    doubt = trend_u_kg(was, was.time_s + until_s) if course.circuit_open else 0.0
    timing_s = math.hypot(delay.age_u_s, 0.0 if reaction.is_learnt else delay.way_u_s)
    return (
        Term("flow", doubt, "pulse and cooling about its mean", dof=JUDGED_DOF),
        Term("reaction", flow * reaction.u_s, SOURCES[reaction.source], reaction.source == "assumed", dof=reaction.dof),
        Term("timing", flow * timing_s, "delay of the indications", dof=JUDGED_DOF),
    )


def landing_u_kg(job: Job) -> float:
    """Standard uncertainty of where the charge lands when the call is made now, kg."""
    return combined_u_kg((*job.picture.budget, *landing_terms(job)))


def probability_if_called(job: Job) -> float | None:
    """Probability that it then lands in the window, 0 to 1; None while nothing can flow."""
    land, circuit = job.picture.landing, job.course.setup.circuit
    if land is None:
        return None
    return probability_between(circuit.charge_min_kg, circuit.charge_max_kg, land.if_called_kg, landing_u_kg(job))
