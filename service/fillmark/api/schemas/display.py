"""What a display asks for beside the job: the cycle, the course of a channel, a plan."""

from __future__ import annotations

from pydantic import Field

from fillmark.api.schemas.base import Document


class DomePoint(Document):
    """Saturation at one temperature."""

    temperature_k: float
    bubble_abs_pa: float
    bubble_j_kg: float
    dew_abs_pa: float
    dew_j_kg: float


class CyclePoint(Document):
    """A place of the circuit in the picture; `live` is false when one of its readings is stale."""

    name: str = Field(description="suction, discharge, liquid or inlet.")
    pressure_abs_pa: float
    temperature_k: float | None
    enthalpy_j_kg: float
    at: float
    live: bool


class CycleView(Document):
    """A refrigerant's dome and the measured points of its circuit."""

    refrigerant: str
    dome: list[DomePoint]
    points: list[CyclePoint]


class CourseView(Document):
    """The course of one channel, thinned out: each point is [time, value]."""

    channel: str
    unit: str | None
    points: list[tuple[float, float]]


class PlannedDraft(Document):
    """What the plan takes from one container."""

    id: str
    take_kg: float
    left_kg: float


class PlanView(Document):
    """A plan that was asked for before the job."""

    aim_kg: float
    hose_kg: float | None = Field(description="What the hose will hold; null where the hose is not given.")
    need_kg: float
    short_kg: float
    text: str
    containers: list[PlannedDraft]
