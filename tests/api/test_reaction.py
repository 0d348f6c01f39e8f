"""What a technician's closings teach goes into the log when the next job is opened, and is nowhere looked up later."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from fillmark.engine.reaction import learnt
from fillmark.engine.view import job_view
from fillmark.intake.replay import replay

if TYPE_CHECKING:
    from tests.api.conftest import Desk, HandClock, MakeDesk

START_S = 1_800_000_000.0
SMALL: dict[str, Any] = {
    "circuit": {"refrigerant": "R-134a", "charge_min": "36 g", "charge_max": "44 g"},
    "scale": {"resolution": "1 g", "class": "III", "delay": "0 s"},
    "hose": None,
}
FLOW = 2e-3


async def _charged(desk: Desk, hand: HandClock, reaction_s: float, technician: str) -> str:
    """One small job: opened, charged, its valve shut so long after the call, and closed."""
    job = (await desk.open(**SMALL, technician=technician)).json()["job"]
    for type_, more in (
        ("step.begin", {"step": "charging", "reason": "a bench for one step only"}),
        ("container.mount", {"container": "C1", "net": "340 g"}),
    ):
        assert (await desk.act(job, type_, **more)).status_code == 200
    kg, shut_s = 1.0, None
    for tick in range(70):
        hand.elapsed_s += 0.5
        desk.keeper.ticker._fire()
        calls = [m.at_s for m in desk.keeper.workshop.jobs[job].journal if m.id == "close-valve-now"]
        shut_s = calls[0] + reaction_s if calls else None
        open_s = 0.5 if tick > 8 else 0.0
        kg -= FLOW * (open_s if shut_s is None else min(max(shut_s - desk.keeper.clock.now_s() + 0.5, 0.0), 0.5))
        await desk.mass(round(kg, 3), desk.keeper.clock.now_s())
        if tick == 8:
            await desk.act(job, "valve", valve="low", open=True)
        elif tick == 50:
            await desk.act(job, "valve", valve="low", open=False)
    assert shut_s is not None
    await desk.act(job, "job.close")
    hand.elapsed_s += 60.0
    return str(job)


async def _opening(desk: Desk, job: str) -> dict[str, Any]:
    """The action that opened a job, as it stands in the log."""
    (first, *_) = (await desk.http.get(f"/v1/jobs/{job}/log")).json()["entries"]
    opening: dict[str, Any] = json.loads(first["records"][0]["vs"])
    return opening


async def test_the_next_job_of_a_technician_is_opened_with_what_was_learnt(
    make_desk: MakeDesk, hand: HandClock, tmp_path: Path
) -> None:
    """Reactions of 1.0 s and 1.4 s on a scale of 1 g at 2 g/s: each is seen to half a second."""
    path = tmp_path / "log.db"
    async with make_desk(database=path) as desk:
        first = await _charged(desk, hand, 1.0, technician="Ada")
        assert "reaction_learnt" not in await _opening(desk, first)
        await _charged(desk, hand, 1.4, technician="Ada")
        known = desk.keeper.workshop.reactions_s("Ada")
        assert list(known) == [pytest.approx(1.0, abs=0.5), pytest.approx(1.4, abs=0.5)]
        opened = (await desk.open(technician=" ada ")).json()
        in_log = (await _opening(desk, opened["job"]))["reaction_learnt"]
        expected = learnt(known)
        assert in_log == {"time_s": round(expected.time_s, 3), "u_s": round(expected.u_s, 3), "closings": 2}
        assert opened["reaction"] == {**in_log, "source": "learnt", "text": expected.sentence()}
        assert "from 2 closings" in opened["reaction"]["text"]
        assert not any("reaction" in line for line in opened["assumed"])
        view = (await desk.http.get(f"/v1/jobs/{opened['job']}")).json()
        lines = (await desk.http.get(f"/v1/jobs/{opened['job']}/log?format=stream")).text.splitlines()
    *_, state = replay(lines)
    alone: Any = job_view(state.jobs[opened["job"]])
    assert alone["reaction"] == opened["reaction"]  # the job's own log is enough
    elapsed_s, hand.elapsed_s = hand.elapsed_s, 0.0
    async with make_desk(database=path) as desk:
        hand.elapsed_s = elapsed_s
        assert (await desk.http.get(f"/v1/jobs/{opened['job']}")).json() == view
        assert desk.keeper.workshop.reactions_s("Ada") == known


async def test_who_is_not_known_gets_the_usual_time_and_who_declares_his_own(desk: Desk, hand: HandClock) -> None:
    await _charged(desk, hand, 1.0, technician="Ada")
    openings: tuple[tuple[str, dict[str, Any], str], ...] = (
        ("bay-2", {"technician": "Bo"}, "assumed"),
        ("bay-3", {}, "assumed"),
        ("bay-4", {"technician": "Ada", "reaction_time": "2.5 s"}, "declared"),
        ("bay-5", {"technician": "Ada", "reaction_learnt": {"time": "0.9 s", "u": "200 ms", "closings": 40}}, "learnt"),
        ("bay-6", {"technician": "Ada"}, "learnt"),
    )
    for bay, fields, source in openings:
        view = (await desk.open(bay, **fields)).json()
        assert view["reaction"]["source"] == source, (bay, view)
    assert (await desk.http.get("/v1/jobs/bay-4.1")).json()["reaction"]["time_s"] == 2.5
    assert (await desk.http.get("/v1/jobs/bay-5.1")).json()["reaction"]["closings"] == 40
    assert "reaction_learnt" not in await _opening(desk, "bay-4.1")


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"time": "0 s", "u": "0.1 s", "closings": 3}, "/reaction_learnt/time"),
        ({"time": "1 s", "u": "0.1 s", "closings": 0}, "/reaction_learnt/closings"),
        ({"time": "1 s", "closings": 3}, "/reaction_learnt/u"),
    ],
)
async def test_what_nobody_can_have_learnt_is_refused(desk: Desk, given: dict[str, object], field: str) -> None:
    problem = (await desk.open(reaction_learnt=given)).json()
    assert (problem["status"], problem["field"]) == (422, field)
    assert desk.keeper.workshop.position == 0
