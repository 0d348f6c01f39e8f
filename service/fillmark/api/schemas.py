"""The documents as OpenAPI shows them. The answers are made elsewhere; tests hold them to these models."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict, Field

from fillmark.api.problems import PROBLEMS

PROBLEM_JSON = "application/problem+json"
Responses = dict[int | str, dict[str, Any]]


class Document(BaseModel):
    """Names its members completely."""

    model_config = ConfigDict(extra="forbid")


class ProblemDocument(BaseModel):
    """RFC 9457 problem details. `field` is a JSON pointer, `accepted` says what would do."""

    type: str
    title: str
    status: int
    detail: str
    instance: str | None = None
    field: str | None = None
    accepted: str | None = None


class Receipt(Document):
    """What became of a pack. Everything is durable up to `position`."""

    accepted: int = Field(description="Records that are new to the log.")
    duplicate: int = Field(description="Records that the log had already.")
    unassigned: int = Field(description="Those of the accepted that found no open job.")
    position: int


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
    """One term of the uncertainty of the charged mass."""

    term: str
    u_kg: float
    source: str
    assumed: bool


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


class GlanceBase(Document):
    """A bay in one flat object."""

    bay: str
    job: str | None
    step: str | None
    refrigerant: str | None
    charged_kg: float | None
    charged_u_kg: float | None
    aim_kg: float | None
    charge_min_kg: float | None
    charge_max_kg: float | None
    flow_kg_s: float | None
    aim_in_s: float | None
    mass_at: float | None
    mass_live: bool
    close_valve: bool
    active: str
    stop_point: str | None
    severity: str | None
    text: str | None
    position: int


class Glance(GlanceBase):
    """The glance, with the service's clock."""

    now: float


class ActionAnswer(GlanceBase):
    """Where and when the action stands in the log, and the bay at a glance after it."""

    at: float


class Heard(Document):
    """The last record of a channel, also without a job."""

    at: float
    unit: str | None
    value: float | bool | None


class BayRow(Document):
    """One bay."""

    bay: str
    open_job: str | None
    last_job: str | None
    received: float
    channels: dict[str, Heard]


class BayList(Document):
    """All bays."""

    now: float
    bays: list[BayRow]


class LogRow(Document):
    """One entry of the log. Without records only time has passed."""

    position: int
    received: float
    bay: str
    records: list[dict[str, Any]]


class LogPage(Document):
    """A page of the log; `next` is the path of the page after it."""

    entries: list[LogRow]
    next: str | None


class RefrigerantRow(Document):
    """A refrigerant in a list."""

    name: str
    safety_class: str
    flammable: bool
    blend: bool
    zeotropic: bool


class RefrigerantList(Document):
    """All refrigerants."""

    refrigerants: list[RefrigerantRow]


class Gwp(Document):
    """Global warming potential over 100 years; `below` when the source says no more than that."""

    value: float
    below: bool
    edition: str
    source: str
    checked: str


class RefrigerantView(Document):
    """One refrigerant."""

    name: str
    blend: bool
    zeotropic: bool
    safety: Safety
    gwp100: list[Gwp]
    critical_temperature_k: float
    saturation_from_k: float
    saturation_to_k: float
    coolprop: str


class Bubble(Document):
    """Where liquid begins to boil."""

    temperature_k: float
    pressure_abs_pa: float
    liquid_density_kg_m3: float


class Dew(Document):
    """Where vapour begins to condense."""

    temperature_k: float
    pressure_abs_pa: float
    vapour_density_kg_m3: float


class Saturation(Document):
    """Bubble and dew point at one temperature or at one pressure."""

    refrigerant: str
    zeotropic: bool
    bubble: Bubble
    dew: Dew
    coolprop: str


class Health(Document):
    """Whether the service is well."""

    status: str = Field(description="ok or degraded.")
    reason: str | None
    version: str
    coolprop: str
    now: float
    position: int
    durable_position: int
    pending: int = Field(description="Entries that wait for the disk.")
    refused: dict[str, int] = Field(description="Refusals since start by kind of problem.")


NOT_MODIFIED: Responses = {304: {"description": "Nothing new"}}

PACK: dict[str, Any] = {
    "type": "array",
    "minItems": 1,
    "description": "A SenML pack, RFC 8428.",
    "items": {
        "type": "object",
        "properties": {
            "bn": {"type": "string"}, "bt": {"type": "number"}, "bu": {"type": "string"}, "bv": {"type": "number"},
            "bs": {"type": "number"}, "bver": {"type": "integer"}, "n": {"type": "string"}, "u": {"type": "string"},
            "t": {"type": "number"}, "v": {"type": "number"}, "vb": {"type": "boolean"}, "vs": {"type": "string"},
            "vd": {"type": "string"}, "s": {"type": "number"}, "ut": {"type": "number"},
        },
    },
    "example": [{"n": "bay-1/scale/mass", "u": "kg", "t": -0.2, "v": 0.482}],
}  # fmt: skip


ACTION: dict[str, Any] = {"$ref": "#/components/schemas/Action"}
OPEN: dict[str, Any] = {"$ref": "#/components/schemas/OpenJob"}


def body_of(schema: dict[str, Any], *media_types: str) -> dict[str, Any]:
    """What OpenAPI says about the body of a request."""
    return {"requestBody": {"required": True, "content": {media: {"schema": schema} for media in media_types}}}


def problems(*statuses: int) -> Responses:
    """What OpenAPI says about the refusals of a route."""
    reference = {"$ref": "#/components/schemas/ProblemDocument"}
    return {
        status: {
            "description": "; ".join(row.title for row in PROBLEMS.values() if row.status == status),
            "model": ProblemDocument,
            "content": {PROBLEM_JSON: {"schema": reference}},
        }
        for status in statuses
    }
