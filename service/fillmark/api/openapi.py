"""The OpenAPI document: what FastAPI derives, made true where the service reads and refuses in its own way."""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from types import ModuleType
from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi
from pydantic import AliasChoices

from fillmark.wire import actions, models, setup, stock

Schema = dict[str, Any]
PROBLEM_JSON = "application/problem+json"
_HERE, _THERE = "#/$defs/", "#/components/schemas/"


def install(app: FastAPI) -> None:
    """Let the app describe itself with `document`."""

    def made() -> Schema:
        if app.openapi_schema is None:
            app.openapi_schema = document(app)
        return app.openapi_schema

    app.openapi = made  # type: ignore[method-assign]  # FastAPI's documented way to extend the document


def document(app: FastAPI) -> Schema:
    """OpenAPI 3.1. Refusals are problem documents, and actions are in the components."""
    made = get_openapi(
        title=app.title,
        version=app.version,
        description=app.description,
        routes=app.routes,
        webhooks=app.webhooks.routes,
    )
    schemas: Schema = made["components"]["schemas"]
    for route in (route for item in made["paths"].values() for route in item.values()):
        for status in [status for status in route["responses"] if int(status) >= 400]:
            content = route["responses"][status].get("content", {})
            content.pop("application/json", None)
            if PROBLEM_JSON not in content:  # FastAPI's own 422, which nothing can cause here
                del route["responses"][status]
    for hook in made["webhooks"].values():
        hook["post"]["responses"] = {"2XX": {"description": "Taken."}, "410": {"description": "No more of these."}}
    for name in ("HTTPValidationError", "ValidationError"):
        schemas.pop(name, None)
    return {**made, "components": {"schemas": {**schemas, **action_schemas()}}}


def action_schemas() -> Schema:
    """`Action`, `OpenJob`, `StockAction` and their parts, with both names of every quantity."""
    whole = actions.ACTION.json_schema()
    parts: Schema = whole.pop("$defs")
    entries = stock.STOCK_ACTION.json_schema()
    parts |= entries.pop("$defs")
    for model in _models(setup, actions, stock):
        if model.__name__ in parts:
            _show_both_names(model, parts[model.__name__])
    parts["JobOpen"]["properties"]["aim"]["description"] = 'min, mid or max of the window, or a mass, as "495 g"'
    opening = {**parts["JobOpen"], "description": "The fields of job.open, and the bay unless the query names it."}
    opening["properties"] = {"bay": {"type": "string", "example": "bay-1"}, **opening["properties"]}
    opening["required"] = [name for name in opening["required"] if name != "type"]
    moved: Schema = _moved(
        {
            **parts,
            "Action": {**whole, "description": "What the technician did."},
            "OpenJob": opening,
            "StockAction": {**entries, "description": "What happened to a container outside of jobs."},
        }
    )
    return moved


def _models(*modules: ModuleType) -> Iterator[type[models.Model]]:
    for module in modules:
        for _, found in inspect.getmembers(module, inspect.isclass):
            if issubclass(found, models.Model) and found.__module__ == module.__name__:
                yield found


def _show_both_names(model: type[models.Model], schema: Schema) -> None:
    """A quantity is a text with a unit under its short name, or an SI number under the name with the unit."""
    needed = []
    for field in model.model_fields.values():
        if not isinstance(field.validation_alias, AliasChoices):
            continue
        short, long = map(str, field.validation_alias.choices)
        schema["properties"][long] = {**schema["properties"].pop(short), "title": long}
        schema["properties"][short] = {"type": "string", "description": f"a text with a unit, in place of {long}"}
        if short in schema.get("required", ()):
            schema["required"].remove(short)
            needed.append({"anyOf": [{"required": [short]}, {"required": [long]}]})
    if needed:
        schema["allOf"] = needed


def _moved(node: Any) -> Any:  # noqa: ANN401 - a JSON schema is whatever it is
    """The same with its references led into the components."""
    if isinstance(node, dict):
        return {key: _moved(value) for key, value in node.items()}
    if isinstance(node, list):
        return [_moved(value) for value in node]
    if isinstance(node, str) and node.startswith(_HERE):
        return node.replace(_HERE, _THERE)
    return node
