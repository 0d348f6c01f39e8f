"""The stock over the network: joined with the jobs, durable, entered once, and summed up by the year."""

from __future__ import annotations

import csv
import io
from pathlib import Path
from typing import TYPE_CHECKING, Any

import httpx
import pytest

from fillmark.api import schemas

if TYPE_CHECKING:
    from tests.api.conftest import Desk, HandClock, MakeDesk

START_S = 1_800_000_000.0  # 2027-01-15


async def enter(desk: Desk, type_: str, *, key: str | None = None, **fields: Any) -> httpx.Response:  # noqa: ANN401 - any JSON
    headers = {"Idempotency-Key": key or f"stock-{next(desk.keys)}"}
    return await desk.http.post("/v1/containers", json={"type": type_, **fields}, headers=headers)


async def buy(desk: Desk, name: str = "C1", **fields: Any) -> dict[str, Any]:  # noqa: ANN401 - any JSON
    given = {"container": name, "net": "340 g", "refrigerant": "R-134a", "tare": "660 g", **fields}
    answer = await enter(desk, "purchase", **given)
    assert answer.status_code == 200, answer.text
    body: dict[str, Any] = answer.json()
    return body


async def charge(desk: Desk, hand: HandClock, *, close: bool = True, bay: str = "bay-1", **mount: Any) -> str:  # noqa: ANN401 - any JSON
    """A job that draws 40 g from C1 at 2 g/s; its name."""
    opened = await desk.open(bay)
    job: str = opened.json()["job"]
    begin_s = hand.elapsed_s
    await desk.act(job, "step.begin", step="charging")
    await desk.act(job, "container.mount", **{"container": "C1", **mount})
    for second in range(1, 40):
        hand.elapsed_s = begin_s + second
        if second == 10:
            await desk.act(job, "valve", valve="low", open=True)
        await desk.mass(1.0 - 0.002 * max(min(second, 30) - 10, 0), START_S + begin_s + second, bay)
    await desk.act(job, "valve", valve="low", open=False)
    if close:
        await desk.act(job, "job.close")
    return job


async def one(desk: Desk, name: str = "C1") -> dict[str, Any]:
    answer = await desk.http.get(f"/v1/containers/{name}")
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


async def test_what_jobs_draw_leaves_the_stock(desk: Desk, hand: HandClock) -> None:
    await buy(desk)
    first = await charge(desk, hand)
    second = await charge(desk, hand)
    held = await one(desk)
    schemas.HeldHistory.model_validate(held)
    assert held["jobs"] == [first, second]
    assert held["left_kg"] == pytest.approx(0.34 - 0.08, abs=0.004)
    assert 0.0 < held["left_u_kg"] < 0.004
    assert [move["kind"] for move in held["moves"]] == ["purchased", "used", "used"]
    listed = (await desk.http.get("/v1/containers")).json()
    schemas.ContainerList.model_validate(listed)
    assert [row["id"] for row in listed["containers"]] == ["C1"]
    assert listed["outside_stock"] == []
    assert held["doubts"] == []


async def test_a_container_that_nobody_bought_is_shown_apart(desk: Desk, hand: HandClock) -> None:
    job = await charge(desk, hand, net="340 g")
    listed = (await desk.http.get("/v1/containers")).json()
    assert listed["containers"] == []
    (row,) = listed["outside_stock"]
    assert (row["job"], row["id"], row["refrigerant"]) == (job, "C1", None)
    assert row["drawn_kg"] == pytest.approx(0.04, abs=0.003)
    rows = (await desk.http.get("/v1/stock/2027?gwp=AR4")).json()["rows"]
    flows = {row["flow"]: row for row in rows}
    assert flows["used_outside_stock"]["mass_kg"] == pytest.approx(-0.04, abs=0.003)
    assert flows["charged_into_circuits"]["mass_kg"] == pytest.approx(0.04, abs=0.004)
    assert flows["closing"]["mass_kg"] == 0.0


async def test_a_later_purchase_takes_jobs_since_its_day_and_no_earlier_ones(desk: Desk, hand: HandClock) -> None:
    early = await charge(desk, hand)
    hand.elapsed_s = 86_400.0 * 2
    late = await charge(desk, hand)
    hand.elapsed_s = 86_400.0 * 3
    await buy(desk, on="2027-01-16")
    assert (await one(desk))["jobs"] == [late]
    assert early != late
    assert (await enter(desk, "return", container="C1")).status_code == 200
    await buy(desk)
    assert (await one(desk))["jobs"] == []


async def test_a_recovery_cylinder_fills(desk: Desk, hand: HandClock) -> None:
    await buy(desk, "RC1", net="0 g", use="recovery", refrigerant=None, tare="5 kg")
    await desk.open()
    await desk.act("bay-1.1", "step.begin", step="recovery")
    await desk.act("bay-1.1", "container.mount", container="RC1", use="recovery", tare="5 kg")
    for second in range(1, 40):
        hand.elapsed_s = float(second)
        if second == 10:
            await desk.act("bay-1.1", "valve", valve="low", open=True)
        await desk.mass(5.0 + 0.002 * max(min(second, 30) - 10, 0), START_S + second)
    await desk.act("bay-1.1", "valve", valve="low", open=False)
    await desk.act("bay-1.1", "job.close")
    held = await one(desk, "RC1")
    assert held["left_kg"] == pytest.approx(0.04, abs=0.004)
    assert held["moves"][-1]["kind"] == "recovered"


async def test_what_an_open_job_uses_is_neither_weighed_nor_returned(desk: Desk, hand: HandClock) -> None:
    await buy(desk)
    job = await charge(desk, hand, close=False)
    assert (await one(desk))["in_job"] == job
    for type_, more in (("weighing", {"gross": "0.9 kg"}), ("return", {})):
        answer = await enter(desk, type_, container="C1", **more)
        assert (answer.status_code, answer.json()["code"]) == (409, "container-in-use")
    await desk.act(job, "job.close")
    answer = await enter(desk, "weighing", container="C1", gross="0.96 kg")
    assert answer.json()["container"]["left_kg"] == pytest.approx(0.3)
    assert answer.json()["container"]["left_u_kg"] is None


async def test_what_does_not_fit_together_is_said(desk: Desk, hand: HandClock) -> None:
    await buy(desk, net="20 g", refrigerant="R-1234yf")
    job = await charge(desk, hand)
    doubts = (await one(desk))["doubts"]
    assert any("more left it than it held" in doubt for doubt in doubts)
    assert any(f"holds R-1234yf, and the circuit of {job} takes R-134a" in doubt for doubt in doubts)
    assert not any("bought as" in doubt for doubt in doubts)
    other = await charge(desk, hand, refrigerant="R-134a")
    assert any(f"bought as R-1234yf, and {other} used it as R-134a" in doubt for doubt in (await one(desk))["doubts"])


async def test_the_stock_survives_a_restart_and_counts_once(
    make_desk: MakeDesk, tmp_path: Path, hand: HandClock
) -> None:
    path = tmp_path / "log.db"
    async with make_desk(database=path) as desk:
        first = await enter(desk, "purchase", key="k1", container="C1", net="340 g", refrigerant="R-134a")
        again = await enter(desk, "purchase", key="k1", container="C1", net="340 g", refrigerant="R-134a")
        assert first.json() == again.json()
        await charge(desk, hand)
        cancelled = (await enter(desk, "use", container="C1", mass="5 g", reason="x")).json()["entry"]
        answer = await enter(desk, "cancel", entry=cancelled, reason="slip")
        assert answer.json()["container"]["id"] == "C1"
        before = await one(desk)
        bays = (await desk.http.get("/v1/bays")).json()["bays"]
        assert [bay["bay"] for bay in bays] == ["bay-1"]
    async with make_desk(database=path) as desk:
        assert await one(desk) == before
        again = await enter(desk, "purchase", key="k1", container="C1", net="340 g", refrigerant="R-134a")
        assert again.json() == first.json()
        assert (await enter(desk, "purchase", container="C1", net="1 g", refrigerant="R-134a")).status_code == 409


async def test_a_year_as_table(desk: Desk, hand: HandClock) -> None:
    await buy(desk, refrigerant="R-134a")
    await charge(desk, hand)
    document = (await desk.http.get("/v1/stock/2027?gwp=AR6")).json()
    schemas.YearSummary.model_validate(document)
    answer = await desk.http.get("/v1/stock/2027.csv?gwp=AR6")
    assert answer.headers["content-type"].startswith("text/csv")
    rows = {row["flow"]: row for row in csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig")))}
    assert [row["flow"] for row in document["rows"]] == list(rows)
    used = rows["used"]
    assert float(used["mass_kg"]) == pytest.approx(-0.04, abs=0.003)
    # R-134a in AR6: 1530 (drawdown.org, figure 1, read).
    assert float(used["co2e_t"]) == pytest.approx(float(used["mass_kg"]) * 1.53, abs=1e-6)
    assert (used["gwp_edition"], used["gwp_checked"], used["gwp_is_upper_bound"]) == ("AR6", "read", "no")
    assert float(used["mass_u_kg"]) > 0.0
    assert rows["purchased"]["mass_u_kg"] == ""


async def test_the_edition_must_be_said(desk: Desk) -> None:
    for query in ("", "?gwp=AR3"):
        answer = await desk.http.get(f"/v1/stock/2027{query}")
        assert (answer.status_code, answer.json()["field"]) == (422, "/query/gwp")
        for edition in ("AR4", "AR5", "AR6", "EU-2024"):
            assert edition in answer.json()["accepted"]
    assert (await desk.http.get("/v1/stock/20270?gwp=AR4")).status_code == 422


async def test_an_entry_needs_a_key_and_a_known_field(desk: Desk) -> None:
    entry = {"type": "purchase", "container": "C1", "net": "1 kg"}
    missing = await desk.http.post("/v1/containers", json=entry)
    assert (missing.status_code, missing.json()["type"]) == (400, "/problems/idempotency-key-missing")
    refused = await enter(desk, "purchase", container="C1", net="1 kg")
    assert (refused.status_code, refused.json()["field"]) == (422, "/refrigerant")
    assert (await desk.http.get("/v1/containers/C1")).status_code == 404


async def test_readings_cannot_forge_an_entry_of_the_stock(desk: Desk) -> None:
    forged = {"n": "fillmark/stock", "t": START_S, "vs": '{"type":"purchase"}'}
    assert (await desk.send(forged)).status_code == 422
