"""The six steps of a job: their usual order, what may follow what, and what one of them leaves to be proven.

* A step may begin after any of those in its row of MAY_FOLLOW, or at the beginning of a job.
* A step that is usual before it and was neither done nor skipped is missed: beginning without it needs a reason, or a
  recorded skip. A job that begins with charging is somebody else's circuit, and nothing is missed in it; the hints say
  what was not proven here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from fillmark.engine.report import Report


class Step(StrEnum):
    """A stage of the job."""

    RECOVERY = "recovery"
    PRESSURE_TEST = "pressure_test"
    EVACUATION = "evacuation"
    VACUUM_HOLD = "vacuum_hold"
    CHARGING = "charging"
    PERFORMANCE_TEST = "performance_test"


MAY_FOLLOW: Mapping[Step, frozenset[Step]] = {
    Step.RECOVERY: frozenset(Step),
    Step.PRESSURE_TEST: frozenset({Step.RECOVERY, Step.PRESSURE_TEST, Step.EVACUATION, Step.VACUUM_HOLD}),
    Step.EVACUATION: frozenset({Step.RECOVERY, Step.PRESSURE_TEST, Step.EVACUATION, Step.VACUUM_HOLD}),
    Step.VACUUM_HOLD: frozenset({Step.EVACUATION, Step.VACUUM_HOLD}),
    Step.CHARGING: frozenset({Step.RECOVERY, Step.EVACUATION, Step.VACUUM_HOLD, Step.CHARGING, Step.PERFORMANCE_TEST}),
    Step.PERFORMANCE_TEST: frozenset({Step.CHARGING, Step.PERFORMANCE_TEST}),
}
"""Each step with those after which it may begin. Nitrogen or a vacuum pump has no place in a charged circuit."""

USUAL_BEFORE: Mapping[Step, tuple[Step, ...]] = {
    Step.RECOVERY: (),
    Step.PRESSURE_TEST: (),
    Step.EVACUATION: (Step.PRESSURE_TEST,),
    Step.VACUUM_HOLD: (Step.EVACUATION,),
    Step.CHARGING: (Step.EVACUATION, Step.VACUUM_HOLD),
    Step.PERFORMANCE_TEST: (Step.CHARGING,),
}
"""Steps that usually come before, since the last recovery. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class StepRecord:
    """One step as it went. `ended_s` is None while it is in progress."""

    step: Step
    began_s: float
    ended_s: float | None = None
    reason: str = ""
    skipped: bool = False
    report: Report | None = None


def missed_before(step: Step, records: Sequence[StepRecord]) -> tuple[Step, ...]:
    """Steps that are usual before `step` and were neither done nor skipped, in a job that did not begin with it."""
    if not records:
        return ()
    done = {record.step for record in records}
    return tuple(before for before in USUAL_BEFORE[step] if before not in done)


def last_done(records: Sequence[StepRecord]) -> Step | None:
    """The last step that was done, not skipped."""
    return next((record.step for record in reversed(records) if not record.skipped), None)
