"""The stock: containers, their moves, and a year's summary."""

from __future__ import annotations

from typing import Any

from pydantic import Field

from fillmark.api.schemas.base import Document


class Held(Document):
    """One container of the stock. `doubts` says what does not fit together."""

    id: str
    use: str
    refrigerant: str | None
    left_kg: float = Field(description="Purchase, jobs and entries summed; the heel is in it.")
    left_u_kg: float | None = Field(description="What jobs since the last weighing leave in doubt, k = 1.")
    net_kg: float = Field(description="What was in it at its purchase, as stated.")
    tare_kg: float | None
    origin: str | None
    supplier: str | None
    document: str | None
    since: float
    returned_at: float | None
    in_job: str | None = Field(description="The open job that has used it.")
    jobs: list[str]
    doubts: list[str]


class Stranger(Document):
    """A container that a job used and the stock does not know."""

    job: str
    id: str
    use: str
    refrigerant: str | None
    circuit_refrigerant: str
    drawn_kg: float
    drawn_u_kg: float
    left_kg: float | None


class ContainerList(Document):
    """The stock."""

    now: float
    containers: list[Held]
    outside_stock: list[Stranger]


class Movement(Document):
    """A mass into the container, or out of it (negative). `entry` is what `cancel` names."""

    at: float
    kind: str
    mass_kg: float
    u_kg: float | None
    job: str | None
    entry: int | None
    note: str | None


class HeldHistory(Held):
    """One container with all its moves."""

    moves: list[Movement]


class StockAnswer(Document):
    """The entry's position, and the container after it; null when the entry took it out of the books."""

    entry: int
    container: HeldHistory | None


class SummaryRow(Document):
    """One flow of one refrigerant in the year."""

    refrigerant: str
    flow: str
    mass_kg: float
    mass_u_kg: float | None
    gwp100: float | None
    gwp_is_upper_bound: bool | None
    co2e_t: float | None
    gwp_source: str | None
    gwp_checked: str | None


class YearSummary(Document):
    """A year by refrigerant."""

    year: int
    gwp_edition: str
    gwp_edition_name: str
    rows: list[SummaryRow]


STOCK_ENTRY: dict[str, Any] = {"$ref": "#/components/schemas/StockAction"}
