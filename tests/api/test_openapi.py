"""What the service says about itself is true."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from fillmark.api import schemas
from fillmark.api.app import create_app
from fillmark.api.problems import PROBLEMS
from fillmark.api.settings import Settings
from fillmark.intake.events import _MAKERS as MODELS

if TYPE_CHECKING:
    from tests.api.conftest import Desk

ROUTES = {
    ("post", "/v1/readings"),
    ("post", "/v1/jobs"),
    ("get", "/v1/jobs"),
    ("get", "/v1/jobs/{job}"),
    ("post", "/v1/jobs/{job}/actions"),
    ("get", "/v1/jobs/{job}/stream"),
    ("get", "/v1/jobs/{job}/log"),
    ("get", "/v1/jobs/{job}/record"),
    ("get", "/v1/jobs/{job}/record.{suffix}"),
    ("get", "/v1/jobs/{job}/label.pdf"),
    ("get", "/v1/jobs/{job}/course"),
    ("get", "/v1/jobs/{job}/cycle"),
    ("post", "/v1/plan"),
    ("get", "/v1/containers"),
    ("post", "/v1/containers"),
    ("get", "/v1/containers/{container}"),
    ("get", "/v1/stock/{year}"),
    ("get", "/v1/stock/{year}.csv"),
    ("get", "/v1/bays"),
    ("get", "/v1/bays/{bay}/glance"),
    ("get", "/v1/refrigerants"),
    ("get", "/v1/refrigerants/{name}"),
    ("get", "/v1/refrigerants/{name}/saturation"),
    ("get", "/health"),
}


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    return create_app(Settings(warm_up=False)).openapi()


def test_the_document_is_openapi_3_1_and_names_the_routes_of_the_design(document: dict[str, Any]) -> None:
    assert document["openapi"].startswith("3.1.")
    assert {(method, path) for path, item in document["paths"].items() for method in item} == ROUTES


def test_every_route_says_what_it_does_takes_and_refuses(document: dict[str, Any]) -> None:
    for path, item in document["paths"].items():
        for method, route in item.items():
            assert route["summary"], path
            assert route["description"], path
            if method == "post":
                assert route["requestBody"]["required"], path
                for content in route["requestBody"]["content"].values():
                    assert content["schema"], path
            for status, answer in route["responses"].items():
                if int(status) >= 400:
                    assert "application/problem+json" in answer["content"], (path, status)
                    assert answer["description"], (path, status)


def test_a_refusal_that_is_documented_is_in_the_table(document: dict[str, Any]) -> None:
    statuses = {int(s) for item in document["paths"].values() for r in item.values() for s in r["responses"]}
    assert {status for status in statuses if status >= 400} <= {row.status for row in PROBLEMS.values()}


def test_references_lead_somewhere(document: dict[str, Any]) -> None:
    known = document["components"]["schemas"]

    def follow(node: object) -> None:
        if isinstance(node, dict):
            target = node.get("$ref")
            if isinstance(target, str) and target.startswith("#/components/schemas/"):
                assert target.removeprefix("#/components/schemas/") in known, target
            assert not (isinstance(target, str) and target.startswith("#/$defs/")), target
            for value in node.values():
                follow(value)
        elif isinstance(node, list):
            for value in node:
                follow(value)

    follow(document)


def test_every_quantity_is_shown_under_both_names(document: dict[str, Any]) -> None:
    purge = document["components"]["schemas"]["Purge"]["properties"]
    assert purge["mass"]["type"] == "string"
    assert {"type": "number"} in purge["mass_kg"]["anyOf"]
    opening = document["components"]["schemas"]["OpenJob"]
    assert "type" not in opening["required"]
    assert opening["properties"]["bay"]["type"] == "string"
    circuit = document["components"]["schemas"]["CircuitModel"]
    assert {"anyOf": [{"required": ["charge_min"]}, {"required": ["charge_min_kg"]}]} in circuit["allOf"]
    assert len(document["components"]["schemas"]["Action"]["oneOf"]) == len(set(MODELS))


async def test_the_answers_are_as_documented(desk: Desk) -> None:
    opened = await desk.open()
    await desk.act("bay-1.1", "step.begin", step="charging")
    await desk.act("bay-1.1", "container.mount", container="C1", net="340 g")
    await desk.act("bay-1.1", "engine", running=True)
    await desk.act("bay-1.1", "valve", valve="high", open=True)
    await desk.act("bay-1.1", "note", text="x")
    sent = await desk.mass(1.0, 1_800_000_000.0)
    schemas.JobView.model_validate(opened.json())
    schemas.Receipt.model_validate(sent.json())
    view = schemas.JobView.model_validate((await desk.http.get("/v1/jobs/bay-1.1")).json())
    assert view.active
    assert view.containers
    schemas.Health.model_validate((await desk.http.get("/health")).json())
    assert set((await desk.http.get("/v1/jobs/bay-1.1")).json()) == set(schemas.JobView.model_fields)


async def test_the_page_is_served_and_what_is_missing_is_a_problem(desk: Desk) -> None:
    missing = await desk.http.get("/no-such-file.js")
    assert (missing.status_code, missing.json()["type"]) == (404, "/problems/not-found")
    out = await desk.http.get("/%2e%2e/api/app.py")
    assert out.status_code == 404
    for path in ("/docs", "/redoc"):
        assert (await desk.http.get(path)).status_code == 404
