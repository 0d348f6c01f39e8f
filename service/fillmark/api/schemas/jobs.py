"""Jobs: the whole picture, its parts, and the list."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from fillmark.api.schemas.base import Document


class Safety(Document):
    """Safety class (ASHRAE 34, ISO 817) and cautions, which add to label, law and instructions."""

    safety_class: str = Field(alias="class")
    flammable: bool
    class_source: str
    cautions: list[str]


class Container(Document):
    """One container as far as it is known."""

    id: str
    use: str
    draw: str
    mounted: bool
    gross_kg: float | None
    drawn_kg: float | None
    drawn_u_kg: float | None
    left_kg: float | None
    contents_kg: float | None


class Raised(Document):
    """One raising of a stop point, and the state (IEC 62682) in which it is now."""

    id: str
    subject: str
    severity: str
    at: float
    text: str
    state: str


class Active(Raised):
    """A stop point that a display must show: what to do, why, and the rule's source."""

    what: str
    why: str
    source: str


class StepReport(Document):
    """What a step measured, what that proves, what it does not prove, and what to do next."""

    verdict: str | None
    measured: list[str]
    proves: list[str]
    does_not_prove: list[str]
    next: list[str]
    numbers: dict[str, float | int | str | bool | None]


class StepRecord(Document):
    """When a step began and ended, and what it showed. A skipped step has a reason and no report."""

    began: float
    ended: float | None
    reason: str | None
    skipped: bool
    report: StepReport | None


class ReplacedPart(Document):
    """A replaced part and the oil that its manual asks for."""

    component: str
    oil_m3: float | None


class Oil(Document):
    """The oil balance. `to_add_m3` is null while a part's amount is unknown."""

    removed_m3: float
    added_m3: float
    to_add_m3: float | None
    replaced: list[ReplacedPart]


class BudgetTerm(Document):
    """One term of the uncertainty of the charged mass; `dof` None: infinite. `better`: what would make it smaller."""

    term: str
    u_kg: float
    source: str
    assumed: bool
    dof: float | None
    better: str


class ChannelValue(Document):
    """The last value of a channel; `live` is false when it is stale."""

    value: float
    unit: str | None
    at: float
    live: bool


class Plan(Document):
    """How the rest of the aim is shared over the containers."""

    need_kg: float
    short_kg: float
    text: str


class Remark(Document):
    """A note."""

    at: float
    text: str


class ReactionTime(Document):
    """From the close call to the valve being shut; `text` says in one line what it is and where it comes from."""

    time_s: float
    u_s: float
    closings: int
    source: Literal["declared", "learnt", "assumed"]
    text: str


class Timing(Document):
    """Receipt less measurement of the scale's indications over the last minutes: least, median, 95 of 100."""

    least_s: float | None
    usual_s: float | None
    high_s: float | None
    clocks_apart_s: float = Field(description="So much at least the devices' clock is ahead of the service's.")
    text: str | None


class JobView(Document):
    """Everything about a job."""

    now: float = Field(description="The service's clock at the answer.")
    judged_at: float = Field(description="When the stop points were last judged.")
    job: str
    bay: str
    position: int = Field(description="Log position of the last entry that counts.")
    opened_at: float
    closed_at: float | None
    step: str | None
    steps: dict[str, StepRecord]
    refrigerant: str
    safety: Safety
    charge_min_kg: float
    charge_max_kg: float
    aim_kg: float
    charged_kg: float
    charged_u_kg: float = Field(description="Standard uncertainty, k = 1.")
    dispensed_kg: float
    dispensed_u_kg: float
    hose_kg: float | None
    hose_u_kg: float | None
    lost_kg: float
    purged_kg: float
    recovered_kg: float
    probability_in_window: float | None
    flow_kg_s: float | None
    mass_at: float | None
    mass_live: bool
    lands_if_shut_kg: float | None
    lands_if_called_kg: float | None
    lands_if_called_u_kg: float | None = Field(description="Standard uncertainty of that, k = 1.")
    probability_if_called: float | None = Field(description="That the charge lands in the window if called now.")
    call_in_s: float | None
    aim_in_s: float | None
    containers: list[Container]
    mounted: str | None
    valves: dict[str, bool]
    engine_running: bool | None
    pump_running: bool | None
    oil: Oil | None
    hints: list[str]
    readings: dict[str, ChannelValue]
    saturation: dict[str, float | None]
    plan: Plan | None
    budget: list[BudgetTerm]
    landing_budget: list[BudgetTerm] = Field(description="What `lands_if_called_u_kg` has besides `budget`.")
    reaction: ReactionTime
    timing: Timing
    assumed: list[str]
    notes: list[Remark]
    active: list[Active]
    stop_points: list[Raised]


class JobRow(Document):
    """A job in a list."""

    job: str
    bay: str
    refrigerant: str
    step: str | None
    charged_kg: float
    charged_u_kg: float
    aim_kg: float
    opened_at: float
    closed_at: float | None
    position: int
    active: list[str]


class JobList(Document):
    """Jobs, newest first. `total` counts those that were not listed too."""

    now: float
    jobs: list[JobRow]
    total: int
