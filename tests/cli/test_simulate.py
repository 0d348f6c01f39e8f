"""`fillmark simulate`: reproducible recordings, each with its truth."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fillmark.wire.senml import decode
from fillmark_sim import scenarios

Run = Callable[..., Any]
SCENARIO = "camper-liquid-then-vapour"


def recorded(run: Run, folder: Path, *flags: str) -> tuple[bytes, bytes, str]:
    """Stream, truth and what was said."""
    outcome = run("simulate", SCENARIO, "--out", folder, *flags)
    assert (outcome.status, outcome.err) == (0, "")
    stream, truth = folder / f"{SCENARIO}.senml.jsonl", folder / f"{SCENARIO}.truth.json"
    assert sorted(folder.iterdir()) == [stream, truth]
    return stream.read_bytes(), truth.read_bytes(), outcome.out


def test_the_same_seed_gives_the_same_bytes(run: Run, process: Run, tmp_path: Path) -> None:
    stream, truth, _ = recorded(run, tmp_path / "one", "--seed", "5")
    assert recorded(run, tmp_path / "two", "--seed", "5")[:2] == (stream, truth)
    third = tmp_path / "three"
    assert process("simulate", SCENARIO, "--seed", "5", "--out", third, PYTHONHASHSEED="99").status == 0
    assert (third / f"{SCENARIO}.senml.jsonl").read_bytes() == stream
    assert (third / f"{SCENARIO}.truth.json").read_bytes() == truth
    other_stream, other_truth, _ = recorded(run, tmp_path / "four", "--seed", "6")
    assert other_stream != stream
    assert other_truth != truth


def test_a_recording_can_be_read_and_carries_its_truth(run: Run, tmp_path: Path) -> None:
    stream, truth, said = recorded(run, tmp_path / "out")
    packs = [decode(line, now_s=0.0) for line in stream.splitlines()]
    masses = [r.value for pack in packs for r in pack if r.name == "bay-1/scale/mass" and r.value is not None]
    drawn_kg = max(masses) - masses[-1]
    told = json.loads(truth)
    assert told["seed"] == 7
    assert drawn_kg == pytest.approx(told["dispensed_kg"], abs=0.01)
    assert said.startswith(f"{SCENARIO}: {told['charged_kg'] * 1e3:.1f} g in the circuit, aim 570 g -> ")
    assert told["charged_kg"] == pytest.approx(told["aim_kg"], abs=0.01)


def test_by_hand_nobody_looks(run: Run, tmp_path: Path) -> None:
    looked = recorded(run, tmp_path / "looked")
    by_hand = recorded(run, tmp_path / "by-hand", "--by-hand")
    assert looked[0] != by_hand[0]
    assert json.loads(by_hand[1])["charged_kg"] >= json.loads(by_hand[1])["aim_kg"]


def test_without_a_name_it_lists_them_all(run: Run) -> None:
    outcome = run("simulate")
    assert (outcome.status, outcome.err) == (0, "")
    rows = [line.split(maxsplit=1) for line in outcome.out.splitlines()]
    assert [row[0] for row in rows] == list(scenarios.names())
    assert all(row[1] == scenarios.get(row[0]).title for row in rows)


def test_an_unknown_scenario_is_named(run: Run, tmp_path: Path) -> None:
    outcome = run("simulate", "nope", "--out", tmp_path / "x")
    assert (outcome.status, outcome.out) == (2, "")
    assert outcome.one_line.startswith("no scenario 'nope'; use one of harvester-clean, ")
    assert not (tmp_path / "x").exists()


@pytest.mark.parametrize("below", ["", "deeper"])
def test_a_folder_that_cannot_be_written_is_named(run: Run, tmp_path: Path, below: str) -> None:
    (tmp_path / "file").write_text("", encoding="utf-8")
    folder = tmp_path / "file" / below
    outcome = run("simulate", SCENARIO, "--out", folder)
    assert (outcome.status, outcome.out) == (2, "")
    assert outcome.one_line.startswith(f"{folder}: ")
    assert outcome.one_line.endswith("; choose another folder with --out")


def test_a_visit_without_a_charge_says_what_was_done_instead(run: Run, tmp_path: Path) -> None:
    outcome = run("simulate", "refuse-truck-recovery", "--out", tmp_path)
    told = json.loads((tmp_path / "refuse-truck-recovery.truth.json").read_text())["steps"]["recovery"]
    wanted = f"recovery: {told['recovered_kg']:.3f} kg recovered, nothing was charged -> "
    assert outcome.out.startswith(f"refuse-truck-recovery: {wanted}")
    assert "in the circuit" not in outcome.out


def test_a_visit_with_a_charge_says_both(run: Run, tmp_path: Path) -> None:
    said = run("simulate", "refrigerated-van-whole-job", "--out", tmp_path).out
    assert "vacuum hold: tight, " in said
    assert " g in the circuit, aim 720 g -> " in said
