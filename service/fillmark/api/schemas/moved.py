"""A change of a stop point, as streams, webhooks and MQTT carry it."""

from __future__ import annotations

from fillmark.api.schemas.base import Document


class StopPointMoved(Document):
    """One stop point has gone from one state to another. States have the names of IEC 62682."""

    job: str
    position: int
    at: float
    id: str
    subject: str
    severity: str
    before: str
    after: str
    text: str
    what: str


class BayStopPointMoved(StopPointMoved):
    """The same, where the message does not belong to a bay by itself."""

    bay: str


class StopPointMessage(Document):
    """The body of a webhook."""

    type: str
    timestamp: str
    data: BayStopPointMoved
