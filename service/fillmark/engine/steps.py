"""The six steps of a job, in their usual order."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Step(StrEnum):
    """A stage of the job."""

    RECOVERY = "recovery"
    PRESSURE_TEST = "pressure_test"
    EVACUATION = "evacuation"
    VACUUM_HOLD = "vacuum_hold"
    CHARGING = "charging"
    PERFORMANCE_TEST = "performance_test"


@dataclass(frozen=True, slots=True)
class StepRecord:
    """One step as it went. `ended_s` is None while it is in progress."""

    step: Step
    began_s: float
    ended_s: float | None = None
    reason: str = ""
