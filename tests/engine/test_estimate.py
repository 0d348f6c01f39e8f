"""The filter of mass and flow beside a general-purpose one: filterpy's KalmanFilter, on the linear case."""

from __future__ import annotations

import random
from typing import Any

import filterpy.kalman
import numpy as np
import pytest

from fillmark.engine.weighing.estimate import (
    DRIFT_KG_SQRT_S,
    FLOW_WALK_KG_S,
    FLOW_WALK_SHARE,
    Estimate,
)

NOISE_VAR = 1e-6 / 3.0
"""Steps of 1 g: (1/12 + 1/4) g²."""


def _reference(first: Estimate) -> Any:  # noqa: ANN401  # filterpy is untyped
    kalman = filterpy.kalman.KalmanFilter(dim_x=2, dim_z=1)
    kalman.x = np.array([first.mass_kg, first.flow_kg_s])
    kalman.P = np.array([[first.var_mass, first.cov], [first.cov, first.var_flow]])
    kalman.H = np.array([[1.0, 0.0]])
    kalman.R = np.array([[NOISE_VAR]])
    return kalman


@pytest.mark.parametrize("gaps", [(0.2,), (1.0,), (2.0,), (0.1, 1.3, 0.4)])
def test_on_a_flow_it_is_the_reference_filter(gaps: tuple[float, ...]) -> None:
    luck = random.Random(3)
    ours = Estimate(0.0, 1.0, 2e-3, NOISE_VAR, 0.0, 1e-7)
    kalman, load, time_s = _reference(ours), 1.0, 0.0
    for number in range(200):
        dt = gaps[number % len(gaps)]
        time_s, load = time_s + dt, load - (2e-3 + 0.5e-3 * luck.uniform(-1.0, 1.0)) * dt
        density = (FLOW_WALK_KG_S + FLOW_WALK_SHARE * abs(ours.flow_kg_s)) ** 2
        kalman.F = np.array([[1.0, -dt], [0.0, 1.0]])
        kalman.Q = density * np.array([[dt**3 / 3.0, -(dt**2) / 2.0], [-(dt**2) / 2.0, dt]])
        shown = round(load, 3)
        ours = ours.flowing(time_s)
        ours = ours.corrected(shown - ours.mass_kg, ours.var_mass + NOISE_VAR)
        kalman.predict()
        kalman.update(np.array([shown]))
        assert [ours.mass_kg, ours.flow_kg_s] == pytest.approx(kalman.x.tolist(), rel=1e-9, abs=1e-12)
        assert [ours.var_mass, ours.cov, ours.var_flow] == pytest.approx(
            [kalman.P[0, 0], kalman.P[0, 1], kalman.P[1, 1]], rel=1e-6
        )


def test_at_rest_the_load_stands_still_and_the_doubt_walks_as_the_zero_does() -> None:
    lag_s = 0.5
    ours = Estimate(0.0, 1.0, 2e-3, 1e-8)
    later = ours.resting(100.0, lag_s, -1e3)
    assert later.mass_kg - later.flow_kg_s * lag_s == pytest.approx(ours.mass_kg - ours.flow_kg_s * lag_s)
    assert later.var_mass == pytest.approx(1e-8 + 100.0 * DRIFT_KG_SQRT_S**2)


def test_noise_that_feigns_a_flow_back_moves_no_mass() -> None:
    assert Estimate(0.0, 1.0, -1e-3, 1e-8).flowing(10.0).mass_kg == 1.0
