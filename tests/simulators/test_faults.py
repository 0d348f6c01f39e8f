"""Sampled faults: decided by the seed alone, spread as documented, cheap, and honest about what cannot be seen."""

from __future__ import annotations

import time

import pytest

from fillmark_sim import faults, plants


def test_the_seed_decides_everything() -> None:
    assert faults.sample(5) == faults.sample(5)
    assert faults.sample(5) != faults.sample(6)


def test_a_case_is_cheap() -> None:
    faults.sample(1)
    start = time.process_time()
    for seed in range(10):
        faults.sample(seed)
    assert (time.process_time() - start) / 10 < 0.1


@pytest.mark.parametrize("truth", faults.FAULTS)
def test_readings_are_a_series_of_minutes_in_wire_units(truth: str) -> None:
    case = faults.sample(21, truth, 0.6)
    assert case.truth == truth
    assert case.severity == 0.6
    assert {"low/pressure", "high/pressure", "vent/temperature", "ambient/temperature"} <= set(case.readings)
    for name, series in case.readings.items():
        times = [time_s for time_s, _ in series]
        assert times == sorted(times)
        assert times[-1] - times[0] > 180.0
        low, high = {"pressure": (5e4, 4e6), "humidity": (0.0, 110.0)}.get(name.split("/")[1], (-40.0, 180.0))
        assert all(low < value < high for _, value in series), name


def test_a_narrowed_line_that_the_valve_makes_up_for_is_marked_as_masked() -> None:
    for seed in range(200, 240):
        case = faults.sample(seed, "restricted", 0.25)
        if case.layout == plants.VALVE_AND_RECEIVER:
            assert case.shift < 2.0
            break
    else:
        pytest.fail("no such layout was drawn")
    assert faults.sample(seed, "condenser airflow", 1.0).shift > 5.0
    assert faults.sample(seed, faults.HEALTHY).shift == 0.0


def test_all_truths_and_layouts_occur() -> None:
    cases = [faults.sample(seed) for seed in range(40)]
    assert {case.truth for case in cases} == {faults.HEALTHY, *faults.FAULTS}
    assert {case.layout for case in cases} == set(plants.DESIGNS)
    assert {case.refrigerant for case in cases} == {"R-134a", "R-1234yf", "R-407C"}
    assert any(case.static is None for case in cases)
    assert any(case.static is not None for case in cases)
