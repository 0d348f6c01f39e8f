"""Refrigerants and a workshop's day, shared by the tests of the performance test."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from fillmark.engine.performance.conditions import VEHICLE, Layout
from fillmark.engine.performance.cycle import CycleInput, cycle
from fillmark.engine.performance.cycling import Rhythm
from fillmark.engine.performance.diagnosis import Diagnosis, diagnose
from fillmark.engine.performance.static import StaticCheck
from fillmark.engine.performance.values import Probes
from fillmark.engine.performance.vent import expected
from fillmark.refrigerants import facade

Judge = Callable[..., Diagnosis]


def _kelvin(celsius: float | None) -> float | None:
    return None if celsius is None else celsius + 273.15


@pytest.fixture(scope="session")
def judge() -> Judge:
    """A diagnosis from what a technician notes: bar absolute and °C. Ambient 30 °C and 50 % unless said."""

    def make(
        *,
        low: float | None,
        high: float | None,
        suction: float | None = None,
        liquid: float | None = None,
        discharge: float | None = None,
        vent: float | None = None,
        ambient: float | None = 30.0,
        humidity: float | None = 0.5,
        rhythm: Rhythm | None = None,
        static: StaticCheck | None = None,
        layouts: tuple[Layout, ...] = VEHICLE[:1],
        refrigerant: str = "R-134a",
    ) -> Diagnosis:
        given = CycleInput(
            low_abs_pa=None if low is None else low * 1e5,
            high_abs_pa=None if high is None else high * 1e5,
            suction_k=_kelvin(suction),
            liquid_k=_kelvin(liquid),
            discharge_k=_kelvin(discharge),
            vent_k=_kelvin(vent),
            ambient_k=_kelvin(ambient),
            humidity=humidity,
        )
        fluid, probes = facade.get(refrigerant), Probes()
        allowed = expected(given, probes)
        seen = cycle(fluid, given, probes)
        return diagnose(fluid, seen, allowed, rhythm=rhythm, static=static, layouts=layouts)

    return make
