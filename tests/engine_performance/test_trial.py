"""The diagnosis on simulated faults: right or undecided, and the same whatever the rate, the order or the noise."""

from __future__ import annotations

from dataclasses import replace

import pytest

from fillmark.cli.trial_performance import as_markdown, judge, run_trial
from fillmark_sim import faults


def test_a_small_trial_is_seldom_confidently_wrong() -> None:
    # The promise is 2 % of many; of 40 cases one is within it by chance (binomial, p = 0.02: 19 % see more than one).
    tally = run_trial(40, 7)
    assert sum(sum(counter.values()) for counter in tally.table.values()) == 40
    assert tally.share("confident wrong") <= 0.05
    assert tally.share("correct") >= 0.1
    assert any("Confident wrong" in line for line in as_markdown(tally))


@pytest.mark.parametrize(
    ("truth", "seed"),
    [
        ("undercharge", 3),
        ("condenser airflow", 5),
        ("compressor weak", 4),
        ("air in the circuit", 6),
        ("restricted", 9),
    ],
)
def test_a_severe_fault_is_named_among_the_candidates(truth: str, seed: int) -> None:
    case = faults.sample(seed, truth, 1.0)
    named = {str(condition) for condition in judge(case).diagnosis.candidates}
    assert truth in named


def test_half_the_readings_say_the_same() -> None:
    case = faults.sample(11, "undercharge", 0.9)
    thinned = replace(case, readings={name: series[::2] for name, series in case.readings.items()})
    full, half = judge(case).diagnosis, judge(thinned).diagnosis
    assert full.verdict is half.verdict
    assert full.odds[0][0] is half.odds[0][0]
    assert full.odds[0][1] == pytest.approx(half.odds[0][1], abs=0.1)
