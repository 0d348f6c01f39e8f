"""The standing test on simulated nitrogen: seldom wrong, and what was topped up is noticed."""

from __future__ import annotations

import pytest

from fillmark.cli.trial_nitrogen import as_markdown, judge, run_tests
from fillmark_sim.nitrogen import sample_nitrogen


def test_a_small_trial_is_seldom_wrong() -> None:
    # The promise is 2 % of many; of 80 tests four or more are wrong by chance in one trial of thirteen at that rate.
    tally = run_tests(80, 5)
    assert tally.tests >= 78
    assert len(tally.wrong) <= 3
    assert tally.table["tight", "tight"] >= 10
    assert tally.table["leaking", "leaking"] >= 10
    assert tally.noticed >= 0.8 * tally.topped
    assert any(line.startswith("Wrong: ") for line in as_markdown(tally))


def test_the_leak_of_a_case_is_what_its_pressure_loses() -> None:
    """p V is lost at Q: over the last half, with the temperature standing still, the slope is the declared one."""
    case = next(
        one
        for one in map(sample_nitrogen, range(400))
        if one.leak_pa_s > 20.0 and one.gauge_resolution_pa <= 500.0 and not one.topped_up and steady(one.samples)
    )
    late = [s for s in case.samples if case.stands_from_s + 300.0 < s[0] < case.ends_s]
    slope = (late[0][1] - late[-1][1]) / (late[-1][0] - late[0][0])
    assert slope == pytest.approx(case.leak_pa_s, rel=0.25)
    found = judge(case)
    assert found is not None
    assert found.verdict == "leaking"


def steady(samples: tuple[tuple[float, float, float | None], ...]) -> bool:
    kelvins = [kelvin for _, _, kelvin in samples if kelvin is not None]
    return len(kelvins) == len(samples) and max(kelvins) - min(kelvins) < 0.6 and samples[-1][0] > 900.0
