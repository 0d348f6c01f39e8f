"""The uncertainty of the charged mass, term by term.

Uncorrelated terms add as squares (JCGM 100:2008, GUM, section 5.1).

* indication: step of the scale and the filter's own variance, at the start and end of every draw.
* scale class: how far the errors of two indications of one scale differ. Over the range they lie on a curve within the
  maximum permissible error of OIML R 76-1:2006 table 6, E at Max, which bends some BENDS times; as a normal process
  of standard deviation s = E / 3, for nearly every scale of a class keeps within the limits (JCGM 100 section 4.3.9
  note 1), and of a length L = Max / BENDS, two loads d apart differ by

      u² = 2 s² [1 - exp(-(d / L)² / 2)] + (SPAN_U d)²

  and d is what was drawn. Where nobody has declared a class, s = 2 E / √3: twice the limits, as section 3.5.2 lets pass
  in service, and rectangular. The verification interval is taken to be the resolution.
* drift: zero drift since charging began, rectangular.
* hose: what the model of its content leaves in doubt.
* tug: a hose stiffens under pressure, and lifts or presses a container that was weighed without, each time anew; as far
  as the charge is not a difference of two indications that both have it (`Account.pulls`).
* lag: while refrigerant flows, the scale's delay, declared or measured (`weighing/settling.py`), is known to a third.

Limits that a standard sets are taken as exactly known; a term that is judged is right to some 25 %, which JCGM 100
section G.4.2 makes JUDGED_DOF degrees of freedom. The combined term has those of Welch and Satterthwaite (G.4.1).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fillmark.engine.course import Course
from fillmark.engine.hold_up import HoldUp
from fillmark.engine.setup import LAG_SHARE_U, Scale
from fillmark.engine.steps import Step

SHELTERED_STEPS_PER_H = 2.0
EXPOSED_STEPS_PER_H = 8.0
"""Zero drift, rectangular half-width: a step for 5 K (OIML R 76-1:2006 3.9.2.3, from memory). A workshop warms by 10 K
in an hour, a scale in the sun or near an open door by 20 K in half of one. Judged."""

UNDECLARED = 2.0
LIMIT_SIGMAS = 3.0

BENDS = 7.0
"""So often does the error curve of a scale bend over its range. Judged."""

SPAN_U = 3e-4
"""Relative error of a span: a scale is adjusted in one place and used in another, where gravity may be another by
half a part in a thousand, rectangular. From memory."""

TUG_U_KG = 0.25e-3
"""A hose that hangs free: up to some 0.4 g either way, rectangular. Common practice, no source."""

JUDGED_DOF = 8.0
"""JCGM 100:2008 section G.4.2: half the inverse square of the relative uncertainty of the uncertainty, here 25 %."""

MPE_STEPS: dict[str, tuple[tuple[float, float], ...]] = {
    "I": ((50_000, 0.5), (200_000, 1.0), (math.inf, 1.5)),
    "II": ((5_000, 0.5), (20_000, 1.0), (math.inf, 1.5)),
    "III": ((500, 0.5), (2_000, 1.0), (math.inf, 1.5)),
    "IIII": ((50, 0.5), (200, 1.0), (math.inf, 1.5)),
}
"""OIML R 76-1:2006 table 6: up to so many verification intervals, so many intervals of permissible error."""

ASSUMED_CLASS = "III"

BETTER: dict[str, str] = {
    "indication": "a scale with a finer step on a firm bench, and nothing that pulls at the container",
    "scale class": "declare the scale's accuracy class and capacity, or use one of a better class",
    "drift": "keep sun and draught off the scale, declare it sheltered, and charge without long pauses",
    "tug": "hang the hose so that it bends freely and does not lift the container",
    "hose": "a shorter or narrower hose, a clamp on the container, and what the hose holds recovered and weighed",
    "lag": "declare the scale's delay; it vanishes when the flow has ended",
    "flow": "a steady flow: throttle it before the aim, and keep the container warm",
    "reaction": "a hand on the valve before the call, and the technician's name at every job",
    "timing": "set the clocks by the network, and bring agent and service nearer to each other",
}
"""What makes each term smaller."""


@dataclass(frozen=True, slots=True)
class Term:
    """One term: standard uncertainty in kg, where it comes from, and its degrees of freedom."""

    name: str
    u_kg: float
    source: str
    assumed: bool = False
    dof: float = math.inf

    @property
    def better(self) -> str:
        """What would make it smaller."""
        return BETTER[self.name]


def permissible_error_kg(accuracy_class: str, interval_kg: float, load_kg: float) -> float:
    """Maximum permissible error on initial verification, kg (OIML R 76-1:2006 table 6)."""
    intervals = abs(load_kg) / interval_kg
    share = next(error for most, error in MPE_STEPS[accuracy_class] if intervals <= most)
    return share * interval_kg


def linearity_u_kg(scale: Scale, drawn_kg: float) -> float:
    """What the scale's error curve leaves in doubt of a difference of two loads, kg."""
    capacity_kg = scale.capacity_or_default_kg
    error = permissible_error_kg(scale.accuracy_class or ASSUMED_CLASS, scale.resolution_kg, capacity_kg)
    s = error / LIMIT_SIGMAS if scale.accuracy_class else UNDECLARED * error / math.sqrt(3.0)
    apart = BENDS * drawn_kg / capacity_kg
    return math.hypot(s * math.sqrt(-2.0 * math.expm1(-apart * apart / 2.0)), SPAN_U * drawn_kg)


def charge_budget(course: Course, charged: HoldUp) -> tuple[Term, ...]:
    """The terms for the charged mass. `charged.u_kg` is the hose's part."""
    scale = course.setup.scale
    dispensed = course.dispensed()
    flow = course.pan.flow_kg_s if course.circuit_open else 0.0
    known = scale.accuracy_class
    began_s = next((record.began_s for record in course.steps if record.step is Step.CHARGING), course.time_s)
    drift = (SHELTERED_STEPS_PER_H if scale.sheltered else EXPOSED_STEPS_PER_H) * scale.resolution_kg
    warms = "10 K an hour" if scale.sheltered else "20 K in half an hour: the scale is not declared to be sheltered"
    hours = max(course.time_s - began_s, 0.0) / 3600.0
    return (
        Term("indication", dispensed.u_kg, "resolution and filter, GUM F.2.2.1"),
        Term(
            "scale class",
            linearity_u_kg(scale, dispensed.mass_kg),
            f"OIML R 76-1 class {known or ASSUMED_CLASS}",
            known is None or scale.capacity_kg is None,
        ),
        Term(
            "drift",
            drift * hours / math.sqrt(3.0),
            f"OIML R 76-1 3.9.2.3, for {warms}",
            not scale.sheltered,
            JUDGED_DOF,
        ),
        Term("tug", TUG_U_KG * math.sqrt(course.account.pulls), "the hose's pull under pressure", dof=JUDGED_DOF),
        Term("hose", charged.u_kg, "bore, length, phase and pressure", dof=JUDGED_DOF),
        Term(
            "lag",
            LAG_SHARE_U * abs(flow) * course.scale_lag_s,
            "flow times scale delay",
            assumed=scale.delay_s is None and course.settling.lag_s is None,
            dof=JUDGED_DOF,
        ),
    )


def combined_u_kg(terms: tuple[Term, ...]) -> float:
    """Combined standard uncertainty, kg."""
    return math.hypot(*(term.u_kg for term in terms))


def effective_dof(terms: tuple[Term, ...]) -> float:
    """Effective degrees of freedom of the combined uncertainty (Welch-Satterthwaite, JCGM 100:2008 section G.4.1)."""
    weight = sum(term.u_kg**4 / term.dof for term in terms)
    return combined_u_kg(terms) ** 4 / weight if weight > 0.0 else math.inf


def probability_between(low_kg: float, high_kg: float, value_kg: float, u_kg: float) -> float:
    """Probability that a normally distributed mass lies in a window, 0 to 1."""
    if u_kg <= 0.0:
        return float(low_kg <= value_kg <= high_kg)
    scale = u_kg * math.sqrt(2.0)
    return 0.5 * (math.erf((high_kg - value_kg) / scale) - math.erf((low_kg - value_kg) / scale))
