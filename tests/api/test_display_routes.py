"""What the page asks for beside the job: the cycle, the course of a channel, a plan."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from fillmark.api import schemas
from fillmark.api.course import thinned

if TYPE_CHECKING:
    from tests.api.conftest import Desk

OPEN: dict[str, Any] = {
    "circuit": {"refrigerant": "R-134a", "charge_min": "480 g", "charge_max": "520 g"},
    "hose": {"length": "1.8 m", "bore": "4.8 mm"},
    "scale": {"resolution": "1 g"},
}
START_S = 1_800_000_000.0


def reading(local: str, value: float, at: float = START_S) -> dict[str, object]:
    return {"n": f"bay-1/{local}", "u": "Pa" if local.endswith("pressure") else "Cel", "v": value, "t": at}


async def test_the_cycle_has_the_points_that_are_measured_and_no_other(desk: Desk) -> None:
    await desk.open()
    nothing = (await desk.http.get("/v1/jobs/bay-1.1/cycle")).json()
    assert nothing["points"] == []
    assert len(nothing["dome"]) >= 30
    await desk.send(reading("low/pressure", 293e3), reading("suction/temperature", 6.0))
    await desk.send(reading("high/pressure", 1017e3), reading("liquid/temperature", 34.0))
    answer = (await desk.http.get("/v1/jobs/bay-1.1/cycle")).json()
    schemas.CycleView.model_validate(answer)
    points = {point["name"]: point for point in answer["points"]}
    assert set(points) == {"suction", "liquid", "inlet"}  # nothing measures the discharge line
    assert points["inlet"]["enthalpy_j_kg"] == points["liquid"]["enthalpy_j_kg"]
    assert points["inlet"]["pressure_abs_pa"] == points["suction"]["pressure_abs_pa"] == 293e3
    # R-134a, saturated liquid at 34 °C: 247.5 kJ/kg, and vapour of 6 °C near 0 °C saturation: 403.8 kJ/kg.
    # ASHRAE Handbook, Fundamentals, table of R-134a, from memory; a picture needs no more than 1 kJ/kg.
    assert points["liquid"]["enthalpy_j_kg"] / 1e3 == pytest.approx(247.5, abs=1.0)
    assert points["suction"]["enthalpy_j_kg"] / 1e3 == pytest.approx(403.8, abs=1.0)


async def test_a_gauge_reading_is_made_absolute_in_the_cycle(desk: Desk) -> None:
    await desk.open(gauge=True, barometer="1013.25 hPa")
    await desk.send(reading("low/pressure", 200e3), reading("suction/temperature", 10.0))
    points = (await desk.http.get("/v1/jobs/bay-1.1/cycle")).json()["points"]
    assert [point["pressure_abs_pa"] for point in points] == [301325.0]


async def test_the_course_of_a_channel_is_in_order_thinned_and_since_a_moment(desk: Desk) -> None:
    await desk.open()
    for t in (3, 1, 2, 5, 4):
        await desk.send(reading("vacuum/pressure", 1000.0 + t, START_S + t), reading("low/pressure", 9e4, START_S + t))
    path = "/v1/jobs/bay-1.1/course?channel=vacuum/pressure"
    whole = (await desk.http.get(path)).json()
    schemas.CourseView.model_validate(whole)
    assert whole["unit"] == "Pa"
    assert whole["points"] == [[START_S + t, 1000.0 + t] for t in (1, 2, 3, 4, 5)]
    late = (await desk.http.get(f"{path}&since={START_S + 4}")).json()["points"]
    assert [t for t, _ in late] == [START_S + 4, START_S + 5]
    few = (await desk.http.get(f"{path}&most=2")).json()["points"]
    assert [t for t, _ in few] == [START_S + 1, START_S + 5]
    assert (await desk.http.get("/v1/jobs/bay-1.1/course?channel=none")).json()["points"] == []
    assert (await desk.http.get("/v1/jobs/bay-9.1/course?channel=x")).status_code == 404
    assert (await desk.http.get("/v1/jobs/bay-1.1/course")).status_code == 422


def test_thinning_keeps_both_ends_and_the_number() -> None:
    points = [(float(t), 0.0) for t in range(1001)]
    for most in (2, 3, 600, 1000):
        kept = thinned(points, most)
        assert len(kept) == most
        assert (kept[0], kept[-1]) == (points[0], points[-1])
        assert kept == sorted(set(kept))


async def test_a_plan_is_that_of_the_command_line(desk: Desk) -> None:
    cans = [{"container": "C1", "net": "340 g"}, {"container": "C2", "net": "340 g", "draw": "vapour"}]
    answer = await desk.http.post("/v1/plan", json={"job": {**OPEN, "bay": "bay-1"}, "containers": cans})
    made = answer.json()
    schemas.PlanView.model_validate(made)
    assert made["aim_kg"] == pytest.approx(0.5)
    # 32.6 cm³ of saturated R-134a vapour at 20 °C, 27.78 kg/m³ (ASHRAE table, from memory): 0.905 g.
    assert made["hose_kg"] == pytest.approx(0.000905, rel=0.01)
    assert made["need_kg"] == pytest.approx(made["aim_kg"] + made["hose_kg"], abs=1e-6)
    assert [row["id"] for row in made["containers"]] == ["C1", "C2"]
    assert made["short_kg"] == 0.0
    assert (await desk.http.get("/v1/jobs")).json()["total"] == 0  # a plan opens nothing
    no_hose = {name: value for name, value in OPEN.items() if name != "hose"}
    unknown = (await desk.http.post("/v1/plan", json={"job": no_hose, "containers": cans})).json()
    assert unknown["hose_kg"] is None


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({"containers": [{"container": "C1", "net": "340 g"}]}, "/job"),
        ({"job": OPEN}, "/containers"),
        ({"job": OPEN, "containers": []}, "/containers"),
        ({"job": OPEN, "containers": [{"container": "C1"}]}, "/containers/0/net"),
        ({"job": OPEN, "containers": [7]}, "/containers/0"),
        ({"job": {**OPEN, "aim": "9 kg"}, "containers": [{"container": "C1", "net": "340 g"}]}, "/job/aim"),
        ({"job": OPEN, "containers": [{"container": "C1", "net": "340"}]}, "/containers/0/net"),
    ],
)
async def test_a_plan_names_the_field_that_it_cannot_take(desk: Desk, body: dict[str, Any], field: str) -> None:
    answer = await desk.http.post("/v1/plan", json=body)
    assert answer.status_code == 422
    assert answer.json()["field"] == field
