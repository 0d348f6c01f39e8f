"""What the page takes from the service is there: the order of the steps, and every number that it shows."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

import fillmark
from fillmark.engine.performance.conditions import Condition
from fillmark.engine.steps import MAY_FOLLOW, USUAL_BEFORE, Step
from fillmark.engine.stop_points import STOP_POINTS
from fillmark.engine.view import job_view
from fillmark.intake.replay import replay
from fillmark.wire.senml import Record, encode

FOLDER = Path(fillmark.__file__).parent / "display"
NODE = shutil.which("node")
BEGIN_S = 1_790_000_000.0
OPEN = {
    "circuit": {"refrigerant": "R-134a", "charge_min": "480 g", "charge_max": "520 g", "volume": "2.4 L"},
    "scale": {"resolution": "1 g"},
    "vacuum_gauge": {"resolution": "1 Pa"},
    "limits": {"test_pressure_abs": "20 bar"},
}
PRESSURES: dict[Step, tuple[str, Callable[[float], float]]] = {
    Step.RECOVERY: ("low/pressure", lambda t: 90e3 + t),
    Step.PRESSURE_TEST: ("low/pressure", lambda t: 1.0e6 - 3.0 * t),
    Step.EVACUATION: ("vacuum/pressure", lambda t: round(60.0 + 1e5 * 0.5 ** (t / 40.0))),
    Step.VACUUM_HOLD: ("vacuum/pressure", lambda t: round(60.0 + 0.2 * t)),
    Step.PERFORMANCE_TEST: ("low/pressure", lambda _t: 250e3),
}


@pytest.mark.skipif(NODE is None, reason="node is not installed")
def test_the_page_knows_the_order_that_the_service_keeps() -> None:
    assert NODE is not None
    script = (
        f"import {{ MAY_FOLLOW, STEPS, USUAL_BEFORE }} from {json.dumps((FOLDER / 'steps.js').as_uri())};"
        "console.log(JSON.stringify({ MAY_FOLLOW, STEPS, USUAL_BEFORE }))"
    )
    done = subprocess.run(
        [NODE, "--input-type=module", "-e", script], capture_output=True, text=True, timeout=30, check=True
    )
    page = json.loads(done.stdout)
    assert page["STEPS"] == [str(step) for step in Step]
    assert {step: set(before) for step, before in page["MAY_FOLLOW"].items()} == {
        str(step): {str(one) for one in before} for step, before in MAY_FOLLOW.items()
    }
    assert page["USUAL_BEFORE"] == {str(step): [str(one) for one in before] for step, before in USUAL_BEFORE.items()}


@pytest.mark.parametrize("step", [step for step in Step if step is not Step.CHARGING])
def test_every_number_that_the_page_shows_of_a_step_is_in_its_report(step: Step) -> None:
    view = job_in(step)
    record = view["steps"][str(step)]
    assert view["step"] == str(step)
    assert record["report"] is not None
    wanted = numbers_shown(step)
    assert len(wanted) >= 3
    assert wanted - set(record["report"]["numbers"]) == set()


def test_every_number_that_the_vacuum_drawing_takes_is_in_a_report() -> None:
    text = (FOLDER / "stage.js").read_text(encoding="utf-8")
    taken = re.search(r"const { ([\w, ]+) } = numbers;", text)
    assert taken is not None
    told: set[str] = set()
    for step in (Step.EVACUATION, Step.VACUUM_HOLD):
        told |= set(job_in(step)["steps"][str(step)]["report"]["numbers"])
    assert set(taken[1].split(", ")) - told == set()


def test_the_acts_that_end_a_danger_are_those_of_stop_points() -> None:
    named = re.findall(r'^  "([\w-]+)": ', (FOLDER / "ending.js").read_text(encoding="utf-8"), re.MULTILINE)
    assert len(named) > 8
    assert set(named) - set(STOP_POINTS) == set()


def test_a_list_of_conditions_can_be_taken_apart() -> None:
    assert [one for one in Condition if " and " in str(one)] == []


def numbers_shown(step: Step) -> set[str]:
    """Names after `numbers.` in the function of the step, and in what all vacuum steps share."""
    text = (FOLDER / "stage.js").read_text(encoding="utf-8")
    name = {
        Step.RECOVERY: "recovery",
        Step.PRESSURE_TEST: "pressureTest",
        Step.EVACUATION: "evacuation",
        Step.VACUUM_HOLD: "vacuumHold",
        Step.PERFORMANCE_TEST: "performance",
    }[step]
    body = re.search(rf"^function {name}\(.*?^}}", text, re.MULTILINE | re.DOTALL)
    assert body is not None
    return set(re.findall(r"numbers\.(\w+)", body[0]))


def job_in(step: Step) -> dict[str, Any]:
    """A job ten minutes into a step."""
    channel, course = PRESSURES[step]
    lines = [
        [action(0.0, "job.open", **OPEN)],
        [action(1.0, "step.begin", step=str(step))],
        [action(2.0, "engine", running=step is Step.PERFORMANCE_TEST)],
        [action(2.0, "valve", valve="vacuum", open=step is Step.EVACUATION)],
    ]
    for t in range(3, 600, 3):
        now = BEGIN_S + t
        ambient = Record("bay-1/ambient/temperature", now, "Cel", 21.0)
        lines.append([ambient, Record(f"bay-1/{channel}", now, "Pa", float(course(float(t))))])
    state = None
    for state in replay([encode(line) for line in lines]):  # noqa: B007 - the last state is wanted
        pass
    assert state is not None
    return dict(job_view(state.jobs["bay-1.1"]))


def action(after_s: float, type_: str, **fields: object) -> Record:
    """One action of a technician."""
    return Record("bay-1/action", BEGIN_S + after_s, text=json.dumps({"type": type_, **fields}))
