"""The log of a job."""

from __future__ import annotations

from typing import Any

from fillmark.api.schemas.base import Document


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
