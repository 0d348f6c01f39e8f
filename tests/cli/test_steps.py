"""Steps in the terminal: what a replay prints of each, and what `watch` shows of the one in progress."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import httpx
from rich.console import Console

from fillmark.cli.watch import panel
from fillmark.engine.view import job_view
from fillmark.intake.replay import replay

Run = Callable[..., Any]
BEGIN_S = 1_790_000_000.0
OPEN = {
    "type": "job.open",
    "circuit": {"refrigerant": "R-134a", "charge_min": "480 g", "charge_max": "520 g"},
    "scale": {"resolution": "1 g"},
}


def action(after_s: float, **fields: object) -> str:
    return json.dumps([{"n": "bay-1/action", "t": BEGIN_S + after_s, "vs": json.dumps(fields)}])


RECOVERY = [
    action(0.0, **OPEN),
    action(1.0, type="step.begin", step="recovery"),
    *(
        json.dumps([{"n": "bay-1/low/pressure", "u": "Pa", "t": BEGIN_S + t, "v": 60e3}])
        for t in range(2, 200, 2)
    ),
]  # fmt: skip
AFTER = [
    action(201.0, type="step.end"),
    action(202.0, type="step.skip", step="pressure_test", reason="no nitrogen [/bold] here"),
]


def shown(lines: list[str]) -> str:
    """The panel of the job that these lines make."""
    *_, state = replay(lines)
    console = Console(width=100)
    with console.capture() as capture:
        console.print(panel(dict(job_view(state.jobs["bay-1.1"]))))
    return capture.get()


def test_a_replay_prints_verdict_and_sentences_of_every_step(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "steps.senml.jsonl"
    path.write_text("\n".join([*RECOVERY, *AFTER]), encoding="utf-8")
    outcome = run("replay", path)
    assert (outcome.status, outcome.err) == (0, "")
    assert "recovery: empty" in outcome.out
    assert "  measured: circuit at 0.60 bar absolute" in outcome.out
    assert "  proves: the circuit gives no more refrigerant" in outcome.out
    assert "  does not prove: that the recovered refrigerant is pure" in outcome.out
    assert "  next: measure the oil" in outcome.out
    assert "pressure test: skipped" in outcome.out
    assert "  reason: no nitrogen [/bold] here" in outcome.out


def test_a_replay_says_that_a_step_is_in_progress(run: Run, tmp_path: Path) -> None:
    path = tmp_path / "steps.senml.jsonl"
    path.write_text("\n".join(RECOVERY), encoding="utf-8")
    assert "recovery, in progress: empty" in run("replay", path).out


def test_watch_shows_the_report_of_a_step_instead_of_the_charge() -> None:
    text = shown(RECOVERY)
    assert "empty" in text
    assert "measured: circuit at 0.60 bar absolute" in text
    assert "next: measure the oil" in text
    assert "window 480" not in text
    assert "window 480 to 520 g" in shown([*RECOVERY, *AFTER])


def test_watch_shows_hints() -> None:
    lines = [*RECOVERY, action(201.0, type="component.replaced", component="drier")]
    assert "hint: the oil balance is open" in shown(lines)
    assert "hint:" not in shown(RECOVERY)


def test_watch_once_shows_a_step_of_a_service(run: Run, service: str) -> None:
    opening = {name: value for name, value in OPEN.items() if name != "type"}
    job = httpx.post(f"{service}/v1/jobs?bay=bay-1", json=opening, trust_env=False).json()["job"]
    answer = httpx.post(
        f"{service}/v1/jobs/{job}/actions",
        json={"type": "step.begin", "step": "recovery"},
        headers={"Idempotency-Key": "one"},
        trust_env=False,
    )
    assert answer.status_code == 200
    outcome = run("watch", "--once", "--service", service)
    assert (outcome.status, outcome.err) == (0, "")
    assert f"{job} · R-134a · recovery" in outcome.out
    assert "unknown" in outcome.out
    assert "next: read the pressure of the circuit" in outcome.out
