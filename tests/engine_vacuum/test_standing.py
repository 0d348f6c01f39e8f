"""From where a standing test counts. What is let in is known here, for it was written into the samples."""

from __future__ import annotations

import random
from collections.abc import Callable

import pytest

from fillmark.engine.vacuum.gauge import Gauge
from fillmark.engine.vacuum.series import Sample
from fillmark.engine.vacuum.standing import stands_from

GAUGE = Gauge(500.0)
DRIFT_U_K = 1.5
LEVEL_PA = 9.5e5


def record(
    seed: int, pressure: Callable[[float], float], kelvin: Callable[[float], float] | None = None, count: int = 300
) -> list[Sample]:
    """Every five seconds, with the noise of a probe: 800 Pa before it is rounded to 500."""
    rng, found = random.Random(seed), []
    for i in range(count):
        time_s = 5.0 * i
        warm = None if kelvin is None else kelvin(time_s) + rng.gauss(0.0, 0.08)
        found.append(Sample(time_s, round((pressure(time_s) + rng.gauss(0.0, 800.0)) / 500.0) * 500.0, warm))
    return found


@pytest.mark.parametrize("seed", range(20))
def test_noise_begins_nothing(seed: int) -> None:
    assert stands_from(record(seed, lambda _: LEVEL_PA), GAUGE, DRIFT_U_K) == 0


@pytest.mark.parametrize("change_k", [-4.0, 4.0])
def test_neither_does_a_temperature_that_was_measured(change_k: float) -> None:
    def kelvin(t: float) -> float:
        return 295.0 + change_k * t / 1500.0

    samples = record(1, lambda t: LEVEL_PA * kelvin(t) / 295.0, kelvin)
    assert abs(samples[-1].pressure_pa - LEVEL_PA) > 0.01 * LEVEL_PA
    assert stands_from(samples, GAUGE, DRIFT_U_K) == 0


@pytest.mark.parametrize("falls_pa_s", [0.0, 15.0])
def test_a_hose_topped_up_by_one_percent_is_noticed(falls_pa_s: float) -> None:
    samples = record(2, lambda t: LEVEL_PA - falls_pa_s * t + (0.01 * LEVEL_PA if t >= 600.0 else 0.0))
    assert samples[stands_from(samples, GAUGE, DRIFT_U_K)].time_s == pytest.approx(600.0, abs=15.0)


def test_a_slow_filling_is_noticed_too() -> None:
    samples = record(3, lambda t: LEVEL_PA * min(0.9 + 0.1 * t / 600.0, 1.0))
    assert samples[stands_from(samples, GAUGE, DRIFT_U_K)].time_s == pytest.approx(600.0, abs=60.0)


def test_a_single_wild_reading_begins_nothing() -> None:
    samples = record(4, lambda _: LEVEL_PA, count=100)
    samples[50] = Sample(samples[50].time_s, 1.2 * LEVEL_PA)
    assert stands_from(samples, GAUGE, DRIFT_U_K) == 0


def test_what_is_let_off_is_not_let_in() -> None:
    samples = record(5, lambda t: LEVEL_PA if t < 1200.0 else 2e5)
    assert stands_from(samples, GAUGE, DRIFT_U_K) == 0
