"""Hints: what is missing for a sound job, said before it is too late. A hint stops nothing."""

from __future__ import annotations

from fillmark.engine.course import Course
from fillmark.engine.steps import Step, last_done


def hints(course: Course) -> tuple[str, ...]:
    """What a careful colleague would remark on."""
    done = {record.step for record in course.steps if not record.skipped}
    lines = []
    at_charging = course.step is Step.CHARGING or last_done(course.steps) is Step.CHARGING
    if at_charging and Step.VACUUM_HOLD not in done:
        lines.append("no vacuum hold was done in this job: nothing here proves that the circuit is tight and dry")
    if Step.RECOVERY in done and at_charging and not course.oil.has_new("drier"):
        lines.append("the circuit was open, but no new drier is recorded")
    if course.oil.touched and course.oil.to_add_m3 is None:
        lines.append("the oil balance is open: a replaced part has no oil amount from the service manual")
    elif course.oil.touched and at_charging and abs(course.oil.to_add_m3 or 0.0) > OIL_CLOSED_M3:
        lines.append(f"oil still to add: {(course.oil.to_add_m3 or 0.0) * 1e6:.0f} mL")
    container, refrigerant = course.container, course.setup.circuit.refrigerant
    if refrigerant.zeotropic and container is not None and not container.recovers and container.draw == "vapour":
        lines.append(f"{refrigerant.name} is a blend: draw it as liquid, or its composition shifts")
    if at_charging and course.valves.get("vacuum"):
        lines.append("the valve to the vacuum pump is open: shut it before refrigerant flows")
    return tuple(lines)


OIL_CLOSED_M3 = 2e-6
"""An oil balance within this is closed; oil is measured in a cup. Common practice, no source."""
