"""The glance, the answer to an action, and the bays."""

from __future__ import annotations

from fillmark.api.schemas.base import Document


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
    value: float | bool | str | None


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
