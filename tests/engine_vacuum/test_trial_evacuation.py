"""The pull-down on simulated circuits: what is claimed is so, and the same seed gives the same table."""

from __future__ import annotations

from fillmark.cli.trial_evacuation import as_markdown, faults, judge, run_pull_downs
from fillmark_sim.vacuum import sample_pull_down


def test_a_small_trial_is_seldom_wrong_and_names_causes() -> None:
    # The promise is 2 % of many; of 40 cases two or more are wrong by chance in one trial of five at that rate.
    tally = run_pull_downs(40, 5)
    assert tally.count >= 38
    assert len(tally.wrong) <= 1
    assert tally.named[True] >= 0.4 * tally.of[True]
    text = list(as_markdown(tally))
    assert any(line.startswith("Wrong: ") for line in text)


def test_a_case_is_what_its_seed_makes_it() -> None:
    one, other = sample_pull_down(77), sample_pull_down(77)
    assert one == other
    assert sum(one.shares.values()) == 1.0 or abs(sum(one.shares.values()) - 1.0) < 1e-9
    found = judge(one)
    assert found is not None
    assert found == judge(other)
    assert faults(one, found) == faults(other, found)
