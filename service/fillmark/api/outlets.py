"""The outlets that the settings ask for."""

from __future__ import annotations

import importlib.metadata

from fastapi import FastAPI

from fillmark.api import schemas
from fillmark.api.settings import Settings
from fillmark.outlets.cursors import Cursors
from fillmark.outlets.description import description
from fillmark.outlets.mqtt import MqttPublisher
from fillmark.outlets.run import Outlet
from fillmark.outlets.webhooks import Webhook

CURSORS_SUFFIX = ".webhooks.json"


def make_outlets(settings: Settings) -> list[Outlet]:
    """One outlet for each receiver and for the broker.

    Raises:
        MissingExtraError: a package is not installed; the sentence says which.
    """
    made: list[Outlet] = []
    if settings.webhooks:
        file = settings.database
        cursors = Cursors(None if file is None else file.with_name(file.name + CURSORS_SUFFIX))
        made += [Webhook(hook, cursors) for hook in settings.webhooks]
    if settings.mqtt is not None:
        version = importlib.metadata.version("fillmark")
        shapes = (schemas.Glance.model_json_schema(), schemas.BayStopPointMoved.model_json_schema())
        made.append(MqttPublisher(settings.mqtt, description(settings.mqtt.prefix, version, *shapes)))
    return made


def describe_webhooks(app: FastAPI) -> None:
    """Put the webhook into the OpenAPI document."""

    @app.webhooks.post("stop_point.moved", summary="A stop point has changed", tags=["webhooks"])
    def stop_point_moved(body: schemas.StopPointMessage) -> None:
        """POSTed to every receiver, signed by Standard Webhooks: webhook-id, webhook-timestamp, webhook-signature."""
        del body
