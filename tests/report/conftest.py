"""Records of the demo streams, each made once."""

from __future__ import annotations

import json
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from fillmark.report.document import record_of

FOLDER = Path(__file__).parents[2] / "demo_streams"
BEGIN_S = 1_790_000_000.0
OPEN = {
    "type": "job.open",
    "circuit": {"refrigerant": "R-134a", "charge_min": "330 g", "charge_max": "350 g", "volume": "2.4 L"},
    "scale": {"resolution": "1 g", "class": "III"},
}

Plain = dict[str, Any]
Lines = Callable[[str], list[str]]
RecordFor = Callable[[str], Plain]
Charge = Callable[..., list[str]]


@cache
def _lines(name: str) -> tuple[str, ...]:
    return tuple((FOLDER / f"{name}.senml.jsonl").read_text(encoding="utf-8").splitlines())


@cache
def _record(name: str) -> str:
    return json.dumps(record_of(_lines(name)))


@pytest.fixture(scope="session")
def lines() -> Lines:
    """The lines of a demo stream."""
    return lambda name: list(_lines(name))


@pytest.fixture(scope="session")
def record_for() -> RecordFor:
    """The record of a demo stream, a fresh copy at every call."""

    def make(name: str) -> Plain:
        found: Plain = json.loads(_record(name))
        return found

    return make


@pytest.fixture
def charge() -> Charge:
    """The lines of a charge of 340 g made by hand, with what else was done as (seconds, action)."""

    def make(*more: tuple[float, Plain], bay: str = "bay-1") -> list[str]:
        actions: list[tuple[float, Plain]] = [
            (0.0, OPEN),
            (0.1, {"type": "step.begin", "step": "charging"}),
            (0.2, {"type": "container.mount", "container": "C1", "net": "500 g"}),
            (14.7, {"type": "valve", "valve": "low", "open": True}),
            (99.7, {"type": "valve", "valve": "low", "open": False}),
            (116.0, {"type": "step.end"}),
            (116.1, {"type": "job.close"}),
            *more,
        ]
        rows: list[tuple[float, str, Plain]] = [(at, "action", {"vs": json.dumps(action)}) for at, action in actions]
        for half in range(2, 232):
            drawn_kg = min(max(half / 2.0 - 15.0, 0.0) * 0.004, 0.340)
            rows.append((half / 2.0, "scale/mass", {"u": "kg", "v": round(1.0 - drawn_kg, 3)}))
        rows.sort(key=lambda row: row[0])
        return [json.dumps([{"n": f"{bay}/{name}", "t": BEGIN_S + at, **value}]) for at, name, value in rows]

    return make
