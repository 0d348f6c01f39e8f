"""What all documents share, and what OpenAPI says about bodies and refusals."""

from __future__ import annotations

from typing import Any

from pydantic import BaseModel, ConfigDict

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


NOT_MODIFIED: Responses = {304: {"description": "Nothing new"}}

ACTION: dict[str, Any] = {"$ref": "#/components/schemas/Action"}
OPEN: dict[str, Any] = {"$ref": "#/components/schemas/OpenJob"}
PLAN: dict[str, Any] = {
    "type": "object",
    "required": ["job", "containers"],
    "properties": {
        "job": OPEN,
        "containers": {"type": "array", "minItems": 1, "items": {"$ref": "#/components/schemas/ContainerMount"}},
    },
    "example": {
        "job": {
            "circuit": {"refrigerant": "R-134a", "charge_min": "480 g", "charge_max": "520 g"},
            "scale": {"resolution": "1 g"},
        },
        "containers": [{"container": "C1", "net": "340 g"}, {"container": "C2", "net": "340 g"}],
    },
}


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
