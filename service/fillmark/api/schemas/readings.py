"""Readings: the receipt, and the pack that is sent."""

from __future__ import annotations

from typing import Any

from pydantic import Field

from fillmark.api.schemas.base import Document


class Receipt(Document):
    """What became of a pack. Everything is durable up to `position`."""

    accepted: int = Field(description="Records that are new to the log.")
    duplicate: int = Field(description="Records that the log had already.")
    unassigned: int = Field(description="Those of the accepted that found no open job.")
    position: int


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
