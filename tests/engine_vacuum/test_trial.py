"""The trial of vacuum holds: what it counts as wrong, and that a fresh run of it stays within what is asked."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fillmark.cli.trial import as_markdown, is_wrong, judge, misses, run_holds
from fillmark.engine.vacuum.hold_types import WANTED_RISE_PA_S, Verdict
from fillmark_sim.vacuum import sample_hold

CASE = sample_hold(5, truth="wet")
HOLD = replace(judge(CASE), sure_limit_pa_s=1e-3)
STILL = replace(CASE, truth="tight", leak_q_pa_m3_s=0.0, volatile_rise_pa=0.0)


@pytest.mark.parametrize(
    ("verdict", "leak_pa_s", "truth", "wrong"),
    [
        (Verdict.TIGHT, 2e-3, "leaking", True),
        (Verdict.TIGHT, 0.5e-3, "leaking", False),
        (Verdict.LEAKING, 0.0, "wet", True),
        (Verdict.LEAKING, 1e-6, "both", False),
        (Verdict.WET, 1.01 * WANTED_RISE_PA_S, "both", True),
        (Verdict.WET, 0.99 * WANTED_RISE_PA_S, "both", False),
        (Verdict.WET, 0.0, "tight", True),
        (Verdict.WET_LEAK_OPEN, 1.0, "both", False),
        (Verdict.WET_LEAK_OPEN, 1.0, "leaking", True),
        (Verdict.BOTH, 0.0, "wet", True),
        (Verdict.BOTH, 1e-3, "both", False),
        (Verdict.UNDECIDED, 1.0, "both", False),
    ],
)
def test_what_counts_as_wrong(verdict: Verdict, leak_pa_s: float, truth: str, *, wrong: bool) -> None:
    case = replace(STILL, truth=truth, leak_q_pa_m3_s=leak_pa_s * CASE.true_volume_m3)  # type: ignore[arg-type]  # table
    assert is_wrong(case, replace(HOLD, verdict=verdict)) is wrong


def test_a_silence_is_counted_beside_it() -> None:
    hidden = replace(STILL, truth="both", leak_q_pa_m3_s=2e-3 * CASE.true_volume_m3)
    assert misses(hidden, replace(HOLD, verdict=Verdict.WET))
    assert not misses(hidden, replace(HOLD, verdict=Verdict.WET_LEAK_OPEN))
    assert not misses(STILL, replace(HOLD, verdict=Verdict.WET))


def test_few_holds_are_judged_wrong() -> None:
    tally = run_holds(60, seed=77)
    assert tally.holds == 60
    assert tally.decided >= 30
    assert len(tally.wrong) <= 0.02 * 60
    assert "Wrong: " in "\n".join(as_markdown(tally))
