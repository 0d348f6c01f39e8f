"""What a display gets: plain data, unknown as None, and digits that somebody measured."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from fillmark.engine.events import StateParticulars
from fillmark.engine.stop_points import STOP_POINTS
from fillmark.engine.view import glance, lives, summary
from fillmark.refrigerants import facade

if TYPE_CHECKING:
    from tests.engine.conftest import Bench, MakeBench

CONTRACT = {"step", "charged_kg", "charged_u_kg", "dispensed_kg", "hose_kg", "probability_in_window", "containers",
            "stop_points", "steps"}  # fmt: skip
"""Keys of a replayed job that other programs read."""


def _filled(make: MakeBench) -> Bench:
    bench = make(hz=1.0).ready(gross=1.0, net=0.6)
    bench.valve("low", is_open=True)
    bench.run(249.0, flow=2e-3)
    return bench


def test_the_summary_keeps_its_contract(make_bench: MakeBench) -> None:
    job: Any = summary(_filled(make_bench).job)
    assert set(job) >= CONTRACT
    assert set(job["containers"][0]) >= {"id", "drawn_kg", "left_kg"}
    assert set(job["stop_points"][0]) >= {"id", "severity", "at", "text"}
    assert all(row["id"] in STOP_POINTS for row in job["stop_points"])


def test_a_job_without_a_reading_knows_nothing_and_says_so(make_bench: MakeBench) -> None:
    view: Any = make_bench().open_job().view
    for name in (
        "flow_kg_s",
        "mass_at",
        "lands_if_called_kg",
        "call_in_s",
        "mounted",
        "engine_running",
        "plan",
        "step",
    ):
        assert view[name] is None, name
    assert view["mass_live"] is False
    assert view["readings"] == {}


def test_without_a_hose_its_content_is_unknown_and_not_nothing(make_bench: MakeBench) -> None:
    view: Any = make_bench(hose=None).ready().view
    assert view["hose_kg"] is None
    assert view["hose_u_kg"] is None


def test_masses_show_ten_milligrams_and_no_negative_zero(make_bench: MakeBench) -> None:
    view: Any = _filled(make_bench).view
    for name in ("charged_kg", "charged_u_kg", "dispensed_kg", "hose_kg"):
        assert round(view[name], 5) == view[name]
    assert "-0.0," not in json.dumps(view)


def test_the_glance_is_flat_and_short(make_bench: MakeBench) -> None:
    bench = _filled(make_bench)
    seen = glance(bench.job, "bay-1")
    assert all(value is None or isinstance(value, (str, float, int, bool)) for value in seen.values())
    assert len(json.dumps(seen)) < 1024
    assert seen["stop_point"] == "close-valve-now"
    assert seen["close_valve"] is True
    assert seen["severity"] == "critical"
    assert "Close the low-side valve now" in str(seen["text"])


def test_the_glance_of_an_empty_bay_has_the_same_names(make_bench: MakeBench) -> None:
    empty = glance(None, "bay-1")
    assert set(empty) == set(glance(_filled(make_bench).job, "bay-1"))
    assert [name for name, value in empty.items() if value is not None] == [
        "bay", "mass_live", "close_valve", "active", "position",
    ]  # fmt: skip


def test_the_most_pressing_comes_first(make_bench: MakeBench) -> None:
    bench = _filled(make_bench)
    bench.read("container/temperature", 60.0)
    active: Any = bench.view["active"]
    order = list(STOP_POINTS)
    assert [row["id"] for row in active] == sorted((row["id"] for row in active), key=order.index)
    assert {row["id"] for row in active} >= {"close-valve-now", "container-warming-limit", "window-reached"}
    for row in active:
        assert row["what"]
        assert row["why"]
        assert row["source"]
        assert row["text"]


def test_every_stop_point_has_a_state(make_bench: MakeBench) -> None:
    assert set(lives(make_bench().open_job().job)) == set(STOP_POINTS)


def test_what_is_taken_for_granted_is_listed(make_bench: MakeBench) -> None:
    bench = make_bench(reaction=None, altitude=340.0, gauge=frozenset({"low/pressure"})).ready(gross=1.0)
    assumed = "\n".join(str(line) for line in bench.view["assumed"])  # type: ignore[attr-defined]  # a list of sentences
    for said in (
        "reaction time 1.5 s",
        "hose at 20 °C",
        "scale in sun or draught",
        "scale of 5 kg",
        "from altitude",
        "no valve was recorded",
        "high side is not watched",
    ):
        assert said in assumed


def test_saturation_keeps_dew_low_and_bubble_high(make_bench: MakeBench) -> None:
    """R-407C at 1 MPa: dew 24.3 °C, bubble 18.7 °C; exchanged they are 5.6 K wrong (CoolProp 8.0.0 both ways)."""

    bench = make_bench(fluid=facade.get("R-407C")).open_job()
    bench.read("low/pressure", 1e6)
    bench.read("high/pressure", 1e6)
    saturation: Any = bench.view["saturation"]
    assert saturation["low_dew_k"] - 273.15 == pytest.approx(24.32, abs=0.05)
    assert saturation["high_bubble_k"] - 273.15 == pytest.approx(18.69, abs=0.05)


def test_the_plan_goes_down_as_the_charge_goes_up(make_bench: MakeBench) -> None:
    bench = make_bench(hz=1.0).ready(gross=1.0, net=0.34)
    plan: Any = bench.view["plan"]
    assert plan["need_kg"] == pytest.approx(0.5)
    assert plan["short_kg"] == pytest.approx(0.16)
    bench.valve("low", is_open=True)
    bench.run(100.0, flow=2e-3)
    plan = bench.view["plan"]
    assert plan["need_kg"] == pytest.approx(0.3, abs=2e-3)


def test_particulars_add_up_and_no_display_shows_them(make_bench: MakeBench) -> None:
    bench = make_bench().open_job()
    bench.feed(StateParticulars(bench.clock, {"technician": "A. Weir", "company": "Weir & Sons"}))
    bench.feed(StateParticulars(bench.clock, {"technician": "B. Holm"}))
    assert bench.job.course.particulars == {"technician": "B. Holm", "company": "Weir & Sons"}
    assert "Holm" not in json.dumps(bench.view)
