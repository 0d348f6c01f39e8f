"""What the record says, against the truth recorded beside the streams, and that it follows from the log alone."""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from fillmark.intake.replay import StreamError
from fillmark.report.document import PARTICULARS, record_of
from fillmark.report.forms import FORMS
from fillmark.report.label import lines_of
from fillmark.report.words import PARTICULARS as WORDS

if TYPE_CHECKING:
    from tests.report.conftest import Charge, Lines, RecordFor

FOLDER = Path(__file__).parents[2] / "demo_streams"
CHARGES = ["harvester-clean", "minibus-can-swap", "van-cold-can"]
WHOLE = "refrigerated-van-whole-job"
PROGRAM = """
import hashlib, sys
from fillmark.report.document import record_of
from fillmark.report.forms import FORMS
record = record_of(sys.stdin)
print(*[hashlib.sha256(form.render(record)).hexdigest() for form in FORMS.values()])
"""


def truth_of(name: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads((FOLDER / f"{name}.truth.json").read_text(encoding="utf-8"))
    return found


def test_the_same_log_gives_the_same_bytes_in_every_form_in_another_process_and_zone(charge: Charge) -> None:
    lines = charge()
    here = record_of(lines)
    elsewhere = subprocess.run(
        [sys.executable, "-c", PROGRAM],
        input="".join(f"{line}\n" for line in lines).encode(),
        check=True,
        capture_output=True,
        timeout=60,
        env={"PYTHONHASHSEED": "99", "TZ": "Pacific/Auckland", "LANG": "C"},
    )
    assert elsewhere.stdout.decode().split() == [
        hashlib.sha256(form.render(here)).hexdigest() for form in FORMS.values()
    ]


@pytest.mark.parametrize("name", CHARGES)
def test_the_charge_is_the_true_one_within_its_doubt(name: str, record_for: RecordFor) -> None:
    charge, truth = record_for(name)["charge"], truth_of(name)
    assert charge["charged_kg"] == pytest.approx(truth["charged_kg"], abs=3.0 * charge["charged_u_kg"])
    assert charge["aim_kg"] == truth["aim_kg"]


@pytest.mark.parametrize("name", CHARGES)
def test_the_balance_is_the_true_one_and_leaves_no_more_than_its_doubt(name: str, record_for: RecordFor) -> None:
    record, truth = record_for(name), truth_of(name)
    balance = record["balance"]
    drawn = balance["drawn_from_containers"]
    assert drawn["mass_kg"] == pytest.approx(truth["dispensed_kg"], abs=3.0 * record["charge"]["charged_u_kg"])
    parts = {row["what"]: row["mass_kg"] for row in balance["parts"]}
    assert drawn["mass_kg"] - sum(parts.values()) == pytest.approx(balance["left_over_kg"], abs=2e-5)
    assert abs(balance["left_over_kg"]) < 3.0 * record["charge"]["charged_u_kg"]
    left = {row["id"]: row["left_kg"] for row in record["containers"]}
    for container in truth["containers"]:
        assert left[container["id"]] == pytest.approx(container["left_kg"], abs=6e-3)


def test_the_whole_job_has_every_step_with_its_verdict_and_curves(record_for: RecordFor) -> None:
    record, truth = record_for(WHOLE), truth_of(WHOLE)
    steps = {step["step"]: step for step in record["steps"]}
    assert list(steps) == [
        "recovery", "pressure_test", "evacuation", "vacuum_hold", "charging", "performance_test",
    ]  # fmt: skip
    assert all(step["verdict"] and step["measured"] and step["does_not_prove"] for step in steps.values())
    assert all(figure["series"] for step in steps.values() for figure in step["figures"])
    assert all(step["figures"] for step in steps.values())
    recovered = record["balance"]["recovered_from_circuit"]
    assert recovered["mass_kg"] == pytest.approx(truth["steps"]["recovery"]["recovered_kg"], abs=3 * recovered["u_kg"])
    assert record["record"]["complete"]
    assert record["record"]["coolprop"] == "8.0.0"


def test_the_curve_of_the_charge_ends_where_the_record_says(record_for: RecordFor) -> None:
    record = record_for("harvester-clean")
    figure = record["steps"][0]["figures"][0]
    assert figure["window_kg"] == [record["charge"]["charge_min_kg"], record["charge"]["charge_max_kg"]]
    (series,) = figure["series"]
    assert series["value"][-1] == pytest.approx(record["charge"]["charged_kg"], abs=2e-3)
    assert len(series["t_s"]) == len(series["value"]) <= 240


def test_where_nothing_was_charged_nothing_is_said_of_a_charge(record_for: RecordFor) -> None:
    record = record_for("mower-hold-wet")
    assert record["charge"] is None
    assert record["containers"] == []
    assert record["balance"]["recovered_from_circuit"] is None


def test_what_was_not_entered_is_not_known(charge: Charge) -> None:
    record = record_of(charge())
    assert record["particulars"] == dict.fromkeys(PARTICULARS)
    assert record["charge"]["charged_kg"] == pytest.approx(0.340, abs=0.004)
    assert record["means"]["hose"] is None
    assert record["balance"]["left_over_kg"] is None
    assert {row["what"]: row["mass_kg"] for row in record["balance"]["parts"]}["in the hose at the end"] is None


def test_every_particular_has_its_words_and_stands_in_the_record(charge: Charge) -> None:
    assert set(WORDS) == set(PARTICULARS)
    given = {name: f"{name} of ours" for name in PARTICULARS} | {"origin": "recycled"}
    record = record_of(charge((20.0, {"type": "particulars", **given})))
    assert record["particulars"] == given


def test_a_stop_point_says_when_it_was_acknowledged_and_that_another_was_not(charge: Charge) -> None:
    said = {"type": "stop_point.acknowledge", "stop_point": "window-reached"}
    rows = {row["id"]: row for row in record_of(charge((105.0, said)))["stop_points"]}
    reached = rows["window-reached"]
    assert 90.0 < reached["raised_at"] - 1_790_000_000.0 < 105.0
    assert reached["acknowledged_at"] == 1_790_000_105.0
    others = [row for row in rows.values() if row["id"] != "window-reached"]
    assert others
    assert all(row["acknowledged_at"] is None for row in others)


def test_corrections_and_notes_stay_in_the_record(charge: Charge) -> None:
    more = (
        (110.0, {"type": "correct", "mass": "-3 g", "reason": "spilt"}),
        (111.0, {"type": "note", "text": "dry"}),
        (112.0, {"type": "mass_step", "was": "handling"}),
    )
    record = record_of(charge(*more))
    assert [(row["mass_kg"], row["text"]) for row in record["corrections"]] == [
        (-0.003, "spilt"),
        (None, "a step of the pan was handling"),
    ]
    assert [note["text"] for note in record["notes"]] == ["dry"]


def test_a_charge_without_steps_has_its_curve_and_its_day_all_the_same(charge: Charge) -> None:
    lines = [line for line in charge() if "step." not in line]
    record = record_of(lines)
    assert record["steps"] == []
    assert record["charge"]["charged_kg"] == pytest.approx(0.340, abs=0.004)
    (figure,) = record["figures"]
    assert max(figure["series"][0]["value"]) == pytest.approx(0.340, abs=0.004)
    assert "Date: 2026-09-21" in lines_of(record)[2]
    assert record_of(charge())["figures"] == []


def test_an_open_job_is_not_final(charge: Charge) -> None:
    whole = charge()
    record = record_of(whole[:-1])
    assert not record["record"]["complete"]
    assert record["job"]["closed_at"] is None
    assert record["log"]["hash"] != record_of(whole)["log"]["hash"]


def test_of_several_jobs_one_must_be_named(charge: Charge) -> None:
    both = [*charge(), *charge(bay="bay-2")]
    with pytest.raises(StreamError, match=r"several jobs; name one of bay-1\.1, bay-2\.1"):
        record_of(both)
    assert record_of(both, "bay-2.1")["job"]["bay"] == "bay-2"
    with pytest.raises(StreamError, match=r"no job bay-3\.1"):
        record_of(both, "bay-3.1")
    with pytest.raises(StreamError, match="no job is opened"):
        record_of([])


def test_a_line_that_is_no_pack_is_named(lines: Lines) -> None:
    with pytest.raises(StreamError, match="line 3"):
        record_of([*lines("harvester-clean")[:2], "{}"])
