"""The state of the service."""

from __future__ import annotations

from pydantic import Field

from fillmark.api.schemas.base import Document


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
