"""Several bays, one log; and the same log always gives the same bytes."""

from __future__ import annotations

import hashlib
import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from fillmark.engine import events as ev
from fillmark.engine.events import Entry
from fillmark.engine.view import glance, job_view, lives
from fillmark.engine.workshop import Workshop, step
from fillmark.intake.replay import Replay

if TYPE_CHECKING:
    from tests.engine.conftest import Bench, MakeBench

STREAMS = Path(__file__).parents[2] / "demo_streams"
SHORT = ("camper-liquid-then-vapour", "telehandler-silent-swap")
"""Liquid and vapour, a bump, a forgotten swap: two streams that reach most of the engine."""

PROGRAM = """
import runpy, sys
print("\\n".join(runpy.run_path(sys.argv[1])["digests"](*sys.argv[2:])))
"""


def digests(*names: str, recent_chunks: int | None = None) -> list[str]:
    """What replaying streams gives, line by line; another process calls this too."""
    said = []
    for name in names:
        run = Replay()
        run.state = Workshop(recent_chunks=recent_chunks)
        for number, line in enumerate(Path(name).read_text(encoding="utf-8").splitlines(), start=1):
            run.take_line(line, number)
        for job in run.state.jobs.values():
            assert job.timeline.whole is (recent_chunks is None)
            text = json.dumps([job_view(job), glance(job, job.bay), lives(job)], allow_nan=False)
            said.append(f"{Path(name).name} {len(job.journal)} {hashlib.sha256(text.encode()).hexdigest()}")
    return said


def _log(make_bench: MakeBench) -> list[Entry]:
    """A charge in two bays with a swap, a bump and late readings, as the entries of a log."""
    entries: list[Entry] = []
    benches = [make_bench(bay=bay, hz=2.0) for bay in ("bay-1", "bay-2")]

    def keep(bench: Bench) -> Callable[..., None]:
        def feed(*events: ev.Event, bay: str | None = None) -> None:
            entries.append(Entry(len(entries) + 1, bench.clock, bay or bench.bay, events))
            bench.state, _ = step(bench.state, Entry(bench.state.position + 1, bench.clock, bench.bay, events))

        return feed

    for index, bench in enumerate(benches):
        bench.ticking = False
        bench.feed = keep(bench)  # type: ignore[method-assign]  # the log is written on the way
        bench.ready(gross=1.0 + index)
        bench.valve("low", is_open=True)
        bench.run(60.0, flow=2e-3)
        bench.extra_kg = 0.05
        bench.run(8.0, flow=2e-3)
        bench.extra_kg = 0.0
        bench.read("scale/mass", 0.9, at=20.25)
        bench.valve("low", is_open=False)
        bench.run(8.0)
        bench.unmount()
        bench.mount("C2", gross=0.9, net=0.34)
        bench.run(20.0)
    entries.sort(key=lambda entry: entry.received_s)
    return entries


def _fold(entries: list[Entry]) -> Workshop:
    state = Workshop()
    for entry in entries:
        state, _ = step(state, entry)
    return state


def _bytes(state: Workshop) -> bytes:
    return json.dumps([job_view(job) for job in state.jobs.values()], allow_nan=False).encode()


def test_folding_a_log_twice_gives_the_same_bytes(make_bench: MakeBench) -> None:
    entries = _log(make_bench)
    first, second = _fold(entries), _fold(entries)
    assert first == second
    assert _bytes(first) == _bytes(second)
    assert len(first.jobs["bay-1.1"].journal) > 2


def test_bays_do_not_hear_each_other(make_bench: MakeBench) -> None:
    entries = _log(make_bench)
    both = _fold(entries)
    alone = _fold([entry for entry in entries if entry.bay == "bay-2"])
    assert both.jobs["bay-2.1"].course == alone.jobs["bay-2.1"].course
    assert [(t.at_s, t.id, t.after) for t in both.jobs["bay-2.1"].journal] == [
        (t.at_s, t.id, t.after) for t in alone.jobs["bay-2.1"].journal
    ]


def test_another_process_with_another_hash_seed_gives_the_same_bytes() -> None:
    """Recorded streams, here and there: order of sets and dictionaries must not show."""
    names = [str(STREAMS / f"{name}.senml.jsonl") for name in SHORT]
    there = subprocess.Popen(
        [sys.executable, "-c", PROGRAM, __file__, *names],
        stdout=subprocess.PIPE,
        text=True,
        env={**os.environ, "PYTHONHASHSEED": "4711"},
    )
    here = digests(*names)
    said, _ = there.communicate(timeout=60)
    assert there.returncode == 0
    assert said.splitlines() == here
    assert len(here) >= len(SHORT)
    assert all(int(line.split()[1]) > 3 for line in here)


def test_a_workshop_that_keeps_little_of_the_past_gives_the_same_bytes() -> None:
    names = [str(STREAMS / f"{name}.senml.jsonl") for name in SHORT]
    assert digests(*names, recent_chunks=4) == digests(*names)


def test_jobs_are_numbered_by_bay_and_one_is_open_at_a_time(make_bench: MakeBench) -> None:
    bench = make_bench().open_job()
    bench.now = 5.0
    bench.close_job()
    bench.now = 6.0
    bench.open_job()
    bench.bay = "bay-2"
    bench.open_job()
    assert list(bench.state.jobs) == ["bay-1.1", "bay-1.2", "bay-2.1"]
    assert bench.state.open_jobs == {"bay-1": "bay-1.2", "bay-2": "bay-2.1"}


def test_readings_without_a_job_are_counted(make_bench: MakeBench) -> None:
    bench = make_bench()
    bench.read("scale/mass", 0.5)
    bench.read("scale/mass", 0.5)
    assert bench.state.unassigned == 2
    assert bench.state.position == 2
    assert bench.state.open_job("bay-1") is None


def test_a_tick_in_an_empty_bay_is_nothing(make_bench: MakeBench) -> None:
    bench = make_bench()
    bench.feed()
    assert bench.state == Workshop(position=1)


def test_readings_go_to_the_job_of_their_own_time(make_bench: MakeBench) -> None:
    bench = make_bench().open_job()
    bench.now = 10.0
    bench.close_job()
    bench.now = 20.0
    bench.open_job()
    bench.feed(
        ev.Reading(bench.clock - 15.0, "low/pressure", 1e5),
        ev.Reading(bench.clock - 5.0, "low/pressure", 2e5),
        ev.Reading(bench.clock, "low/pressure", 3e5),
    )
    assert bench.state.jobs["bay-1.1"].course.value("low/pressure") == 1e5
    assert bench.state.jobs["bay-1.2"].course.value("low/pressure") == 3e5
    assert bench.state.unassigned == 1


def test_close_and_open_in_one_entry(make_bench: MakeBench) -> None:
    bench = make_bench().open_job()
    bench.now = 10.0
    bench.feed(ev.CloseJob(bench.clock), ev.OpenJob(bench.clock, bench.setup), ev.BeginStep(bench.clock, "charging"))
    assert bench.state.jobs["bay-1.1"].closed_s is not None
    assert bench.job.id == "bay-1.2"
    assert bench.view["step"] == "charging"


def test_a_wrong_action_after_an_opening_takes_the_opening_back(make_bench: MakeBench) -> None:
    bench = make_bench()
    assert bench.refused(ev.OpenJob(bench.clock, bench.setup), ev.EndStep(bench.clock)) == "no-step"
    assert bench.state == Workshop()


def test_a_job_closed_long_ago_gives_its_events_up_and_keeps_its_state(make_bench: MakeBench) -> None:
    bench = make_bench(hz=1.0).ready(gross=1.0)
    bench.valve("low", is_open=True)
    bench.run(50.0, flow=2e-3)
    bench.close_job()
    first = bench.state.jobs["bay-1.1"]
    assert sum(len(chunk.items) for chunk in first.timeline.chunks) > 50
    for _ in range(2):
        bench.now += 10.0
        bench.open_job()
        bench.close_job()
    kept = bench.state.jobs["bay-1.1"]
    assert sum(len(chunk.items) for chunk in kept.timeline.chunks) == 0
    assert job_view(kept) == job_view(first)


def test_the_workshop_wakes_for_the_bay_that_is_due_first(make_bench: MakeBench) -> None:
    bench = make_bench(hz=1.0).ready()
    first = bench.state.wake_at_s
    assert first is not None
    bench.bay = "bay-2"
    bench.now += 1.0
    bench.ticking = False
    bench.ready()
    assert bench.state.wake_at_s == first
    assert bench.state.bays_due(first) == ("bay-1",)
    assert set(bench.state.bays_due(first + 100.0)) == {"bay-1", "bay-2"}
    assert bench.state.bays_due(first - 1e-3) == ()


@pytest.mark.parametrize("count", [2, 5])
def test_an_entry_for_one_bay_leaves_the_others_the_very_same(count: int, make_bench: MakeBench) -> None:
    bench = make_bench()
    for index in range(count):
        bench.bay = f"bay-{index}"
        bench.open_job()
    others = {name: job for name, job in bench.state.jobs.items() if job.bay != bench.bay}
    bench.read("low/pressure", 3e5)
    assert all(bench.state.jobs[name] is job for name, job in others.items())
