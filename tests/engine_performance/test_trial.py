"""The diagnosis on simulated faults: right or undecided, and the same whatever the rate, the order or the noise."""

from __future__ import annotations

import random
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
    text = "\n".join(as_markdown(tally))
    assert "confident wrong" in text
    assert "on average" in text


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


@pytest.mark.parametrize("luck", [random.Random(seed) for seed in range(3)])
def test_other_noise_says_the_same(luck: random.Random) -> None:
    case = faults.sample(12, "undercharge", 0.9)
    noise = {"pressure": 1.5e3, "temperature": 0.15, "humidity": 0.5}
    shaken = {
        name: tuple((at, value + luck.gauss(0.0, noise[name.split("/")[1]])) for at, value in series)
        for name, series in case.readings.items()
    }
    first, second = judge(case).diagnosis, judge(replace(case, readings=shaken)).diagnosis
    assert first.odds[0][0] is second.odds[0][0]
    assert first.odds[0][1] == pytest.approx(second.odds[0][1], abs=0.05)


def test_a_report_tells_the_static_check_and_that_it_has_not_settled() -> None:
    case = next(case for case in map(faults.sample, range(30, 60)) if case.static is not None)
    whole = judge(case)
    assert whole.static is not None
    assert set(whole.static.finding.measured) <= set(whole.finding.measured)
    short = judge(replace(case, readings={name: series[:20] for name, series in case.readings.items()}))
    assert whole.settled
    assert not short.settled
    assert any("preliminary" in text for text in short.finding.does_not_prove)
    assert not any("preliminary" in text for text in whole.finding.does_not_prove)
