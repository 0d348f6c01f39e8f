"""`fillmark plan`: ounces and pounds by NIST SP 811 (2008) appendix B, the rest is arithmetic."""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from typing import Any

import pytest

Run = Callable[..., Any]
OZ_KG = 2.834952e-2
LB_KG = 4.535924e-1
"""NIST SP 811 (2008) appendix B.8, ounce and pound (avoirdupois)."""

TWO_CANS = ("plan", "--can", "C1=12 oz", "--can", "C2=12 oz")


def test_a_pound_and_a_tenth_is_a_whole_can_and_5_6_oz(run: Run) -> None:
    """Common practice, no source: 1.1 lb are 17.6 oz, one can of 12 oz and 5.6 oz of the next."""
    outcome = run(*TWO_CANS, "--min", "1.1 lb", "--max", "1.1 lb", "--unit", "oz")
    assert (outcome.status, outcome.err) == (0, "")
    assert outcome.out.splitlines() == [
        "Into the circuit 17.6 oz (hose not given, its content not counted): draw 17.6 oz in all.",
        "  C1: all of it, 12 oz; 0 oz stay in it",
        "  C2: 5.6 oz; 6.4 oz stay in it",
    ]


def test_json_has_the_same_in_kilograms(run: Run) -> None:
    outcome = run(*TWO_CANS, "--min", "1 lb", "--max", "1.2 lb", "--json")
    assert (outcome.status, outcome.err) == (0, "")
    made = json.loads(outcome.out)
    assert set(made) == {"aim_kg", "hose_kg", "need_kg", "short_kg", "text", "containers"}
    assert made["aim_kg"] == pytest.approx(1.1 * LB_KG, abs=1e-6)
    assert [row["id"] for row in made["containers"]] == ["C1", "C2"]
    assert [row["take_kg"] for row in made["containers"]] == pytest.approx([12 * OZ_KG, 5.6 * OZ_KG], abs=2e-6)
    assert [row["left_kg"] for row in made["containers"]] == pytest.approx([0.0, 6.4 * OZ_KG], abs=2e-6)
    assert (made["hose_kg"], made["short_kg"], made["need_kg"]) == (0.0, 0.0, made["aim_kg"])


@pytest.mark.parametrize(("aim", "grams"), [("min", 480.0), ("mid", 500.0), ("max", 520.0), ("495 g", 495.0)])
def test_the_aim_is_within_the_window(run: Run, aim: str, grams: float) -> None:
    outcome = run("plan", "--can", "C1=2 kg", "--min", "480 g", "--max", "520 g", "--aim", aim, "--json")
    assert json.loads(outcome.out)["aim_kg"] == pytest.approx(grams / 1e3)


def test_a_shortage_is_said_before_the_beginning(run: Run) -> None:
    arguments = ("plan", "--can", "C1=340 g/20 g", "--min", "500 g", "--max", "500 g")
    outcome = run(*arguments)
    assert (outcome.status, outcome.err) == (0, "")
    assert "  C1: all of it, 320 g; 20 g stay in it" in outcome.out
    assert "  180 g are missing: have another container ready before you begin." in outcome.out
    assert json.loads(run(*arguments, "--json").out)["short_kg"] == pytest.approx(0.180)


def test_the_hose_is_filled_as_well(run: Run) -> None:
    """Saturated liquid of R-134a at 20 °C has 1225 kg/m³ (ASHRAE Handbook Fundamentals, from memory)."""
    arguments = ("--min", "500 g", "--max", "500 g", "--refrigerant", "r134a", "--hose", "1.8 m x 4.8 mm")
    outcome = run("plan", "--can", "C1=1 kg", *arguments, "--draw", "liquid", "--json")
    made = json.loads(outcome.out)
    liquid_kg = math.pi / 4 * 0.0048**2 * 1.8 * 1225
    assert made["hose_kg"] == pytest.approx(liquid_kg, rel=0.01)
    assert made["need_kg"] == pytest.approx(0.5 + liquid_kg, abs=0.001)
    assert "of liquid in the hose" in run("plan", "--can", "C1=1 kg", *arguments, "--draw", "liquid").out
    vapour = json.loads(run("plan", "--can", "C1=1 kg", *arguments, "--json").out)
    assert 0.0 < vapour["hose_kg"] < 0.002


GOOD = {"--can": "C1=12 oz", "--min": "300 g", "--max": "320 g"}
HOSE = {"--hose": "1.8 m x 4.8 mm", "--refrigerant": "R-134a"}
BAD = [
    ({"--min": "300"}, "--min: '300' has no unit"),
    ({"--max": "a lot"}, "--max: 'a lot' is not a number and a unit"),
    ({"--min": "-3 g"}, "--min: the mass is negative"),
    ({"--max": "3000 kg"}, "--max: the mass is 3000 kg; give at most 2000 kg"),
    ({"--min": "330 g"}, "--min is above --max"),
    ({"--min": "300 bar"}, "--min: 'bar' is no unit of mass"),
    ({"--aim": "400 g"}, "the aim 400 g lies outside the window"),
    ({"--aim": "middle"}, "--aim: 'middle' is not a number and a unit"),
    ({"--can": "C1"}, "--can 'C1' is not NAME=NET"),
    ({"--can": "=340 g"}, "--can '=340 g' is not NAME=NET"),
    ({"--can": "C1=full"}, "--can C1: 'full' is not a number and a unit"),
    ({"--can": "C1=340 g/350 g"}, "--can C1: the heel 350 g is more than the net mass 340 g"),
    ({"--unit": "furlong"}, "--unit furlong: no such choice; give one of g, kg, oz, lb"),
    ({"--draw": "gas"}, "--draw gas: no such choice; give vapour or liquid"),
    ({"--hose": "1.8 m x 4.8 mm"}, "--hose needs --refrigerant"),
    ({**HOSE, "--hose": "1.8 m"}, "is not a length and a bore; write it as"),
    ({**HOSE, "--hose": "1.8 m x 4.8"}, "--hose: '4.8' has no unit"),
    ({**HOSE, "--refrigerant": "R-999"}, "--refrigerant: Unknown refrigerant 'R-999'. Accepted: R-134a"),
    ({**HOSE, "--temperature": "warm"}, "--temperature: 'warm' is not a number and a unit"),
    ({**HOSE, "--temperature": "150 °C"}, "--temperature 150 °C: "),
    ({**HOSE, "--temperature": "150 °C", "--draw": "liquid"}, "--temperature 150 °C: R-134a is not liquid"),
]  # fmt: skip


@pytest.mark.parametrize(("wrong", "said"), BAD, ids=lambda value: value if isinstance(value, str) else "")
def test_bad_input_is_named_in_one_line(run: Run, wrong: dict[str, str], said: str) -> None:
    assert run("plan", *(part for pair in GOOD.items() for part in pair)).status == 0
    outcome = run("plan", *(part for pair in (GOOD | wrong).items() for part in pair))
    assert (outcome.status, outcome.out) == (2, "")
    assert said in outcome.one_line


@pytest.mark.parametrize("missing", ["--can", "--min", "--max"])
def test_what_is_needed_is_asked_for(run: Run, missing: str) -> None:
    outcome = run("plan", *(part for pair in GOOD.items() if pair[0] != missing for part in pair))
    assert (outcome.status, outcome.out) == (2, "")
    assert f"Missing option '{missing}'" in outcome.err
