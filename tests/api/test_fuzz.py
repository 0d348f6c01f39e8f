"""Whatever is sent: an answer below 500, and a state that is either the next one or the same."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Awaitable, Callable, Iterator
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fillmark.wire.stock import STOCK_TYPES

if TYPE_CHECKING:
    from tests.api.conftest import Desk, MakeDesk

START_S = 1_800_000_000.0
JSON = {"Content-Type": "application/json"}
Run = Callable[[Callable[["Desk"], Awaitable[None]]], None]
QUICK = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))

scalars = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12)
anything = st.recursive(
    scalars,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=6), inner, max_size=3),
    max_leaves=8,
)
names = st.sampled_from(
    ["bay-1/scale/mass", "bay-1/low/pressure", "bay-1/action", "bay-2/x/y", "bay-1", "/", "fillmark/received"]
)
labels = st.sampled_from(["n", "bn", "u", "bu", "v", "bv", "vs", "vb", "vd", "t", "bt", "s", "bs", "ut", "bver", "x_"])
actions = st.sampled_from(
    [
        "note",
        "valve",
        "step.begin",
        "step.end",
        "container.mount",
        "purge",
        "correct",
        "mass_step",
        "stop_point.shelve",
        "job.open",
        "x",
    ]
)
fields = st.sampled_from(
    [
        "text",
        "valve",
        "open",
        "step",
        "container",
        "net",
        "net_kg",
        "mass",
        "reason",
        "was",
        "stop_point",
        "duration",
        "circuit",
        "scale",
    ]
)
action_objects = st.builds(
    lambda kind, rest: {"type": kind, **rest},
    actions,
    st.dictionaries(
        fields,
        anything | st.sampled_from(["low", True, "charging", "340 g", "-3 kg", "1e400 kg", "refrigerant"]),
        max_size=4,
    ),
)
values = scalars | st.sampled_from(["kg", "Pa", 1e308, 0.5, START_S]) | action_objects.map(json.dumps)
records = st.builds(
    lambda name, rest: {"n": name, "t": START_S, **rest}, names, st.dictionaries(labels, values, max_size=4)
)
bodies = (
    st.binary(max_size=60)
    | anything.map(lambda v: json.dumps(v).encode())
    | st.lists(records, max_size=4).map(lambda v: json.dumps(v).encode())
)


@pytest.fixture
def run(make_desk: MakeDesk) -> Iterator[Run]:
    """One service for all examples, with a job open in bay-1."""
    with asyncio.Runner() as runner:
        running = make_desk()
        desk = runner.run(running.__aenter__())
        runner.run(desk.open())

        async def hand(test: Callable[[Desk], Awaitable[None]]) -> None:
            await test(desk)

        yield lambda test: runner.run(hand(test))
        runner.run(running.__aexit__(None, None, None))


@QUICK
@given(body=bodies, action=action_objects | anything)
def test_no_body_breaks_the_service(run: Run, body: bytes, action: object) -> None:
    async def all_routes(desk: Desk) -> None:
        before = desk.keeper.workshop
        sent = [
            await desk.http.post("/v1/readings", content=body, headers=JSON),
            await desk.http.post("/v1/jobs?bay=bay-3", content=body, headers=JSON),
            await desk.http.post(
                "/v1/jobs/bay-1.1/actions",
                content=json.dumps(action).encode(),
                headers={**JSON, "Idempotency-Key": "k"},
            ),
        ]
        for answer in sent:
            assert answer.status_code < 500, answer.text
        if all(answer.status_code >= 400 for answer in sent):
            assert desk.keeper.workshop is before
        for path in ("/v1/jobs/bay-1.1", "/v1/bays", "/v1/bays/bay-1/glance", "/v1/jobs/bay-1.1/log", "/v1/jobs"):
            assert (await desk.http.get(path)).status_code == 200, path

    run(all_routes)


@QUICK
@given(path=st.text(max_size=20), key=st.text(alphabet=st.characters(min_codepoint=32, max_codepoint=255), max_size=20))
def test_no_path_and_no_header_breaks_the_service(run: Run, path: str, key: str) -> None:
    async def all_paths(desk: Desk) -> None:
        raw = b"/" + path.encode("utf-8", "surrogatepass").hex().encode()
        quoted = "".join(f"%{byte:02x}" for byte in path.encode("utf-8", "surrogatepass"))
        for target in (
            raw.decode(),
            f"/{quoted}",
            f"/v1/jobs/{quoted}",
            f"/v1/bays/{quoted}/glance",
            f"/v1/refrigerants/{quoted}",
            f"/v1/containers/{quoted}",
            f"/v1/stock/{quoted}.csv?gwp={quoted}",
            f"/v1/jobs/{quoted}/record",
        ):
            assert (await desk.http.get(target)).status_code < 500, target
        header = {b"Idempotency-Key": key.encode("latin-1"), b"Content-Type": b"application/json"}
        answer = await desk.http.post("/v1/jobs/bay-1.1/actions", content=b'{"type":"note","text":"x"}', headers=header)
        assert answer.status_code < 500
        seen = {b"Last-Event-ID": key.encode("latin-1"), b"If-None-Match": key.encode("latin-1")}
        assert (await desk.http.get("/v1/bays/bay-1/glance", headers=seen)).status_code < 500

    run(all_paths)


entry_fields = st.sampled_from(
    ["container", "net", "net_kg", "mass", "tare", "gross", "refrigerant", "reason", "on", "entry"]
)
entry_values = scalars | st.sampled_from(
    ["C1", "C2", "1 kg", "2 kg", "R-134a", "2027-01-01", "9999-12-31", "2027-02-30", "x"]
)
stock_entries = st.dictionaries(entry_fields, entry_values, max_size=6).flatmap(
    lambda given: st.sampled_from([*STOCK_TYPES, "x"]).map(lambda kind: {"type": kind, **given})
)


@QUICK
@given(entries=st.lists(stock_entries | anything, min_size=1, max_size=4))
def test_no_entry_breaks_the_stock(run: Run, entries: list[object]) -> None:
    async def all_entries(desk: Desk) -> None:
        for number, entry in enumerate(entries):
            before = desk.keeper.stock.ledger
            headers = {**JSON, "Idempotency-Key": f"{next(desk.keys)}-{number}"}
            answer = await desk.http.post("/v1/containers", content=json.dumps(entry).encode(), headers=headers)
            assert answer.status_code in {200, 400, 409, 422}, answer.text
            assert (desk.keeper.stock.ledger is before) == (answer.status_code != 200)
        assert (await desk.http.get("/v1/containers")).status_code == 200
        assert (await desk.http.get("/v1/stock/2027?gwp=AR5")).status_code == 200

    run(all_entries)
