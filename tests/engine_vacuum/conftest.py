"""A hold made by integrating its balance, with other equations than the engine's: partial pressures, step by step."""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import pytest

from fillmark.engine.quantity import Quantity
from fillmark.engine.vacuum.gauge import Gauge
from fillmark.engine.vacuum.hold_types import HoldSetup
from fillmark.engine.vacuum.series import Sample

ROOM_K = 293.15


@dataclass(frozen=True)
class Made:
    """Readings and what to judge them with."""

    samples: Sequence[Sample]
    setup: HoldSetup

    @property
    def volume(self) -> float:
        assert self.setup.volume_m3 is not None
        return self.setup.volume_m3.value


def magnus_pa(celsius: float) -> float:
    """Saturation pressure of water over liquid, Pa: Magnus formula, WMO No. 8 (CIMO Guide) 2014, annex 4.B."""
    return 611.2 * math.exp(17.62 * celsius / (243.12 + celsius))


def make_hold(
    *,
    q: float = 0.0,
    evaporation_m3_s: float = 0.0,
    start_pa: float = 50.0,
    minutes: float = 30.0,
    every_s: float = 5.0,
    resolution_pa: float = 1.0,
    noise_share: float = 0.3,
    volume_m3: float = 4e-3,
    seed: int = 1,
    warming_k: float = 0.0,
    measured: bool = True,
) -> Made:
    """V dp/dt = Q + S (p_s - p_w), read by a noisy and rounding gauge. p_s is that of 20 °C."""
    rng = random.Random(seed)
    ceiling, air, vapour, step = magnus_pa(20.0), start_pa, 0.0, 0.5
    found: list[Sample] = []
    total = int(minutes * 60.0 / step)
    for i in range(total + 1):
        time_s = i * step
        warm = warming_k * time_s / (minutes * 60.0)
        if time_s >= len(found) * every_s:
            true = (air + vapour) * (1.0 + warm / ROOM_K) + rng.gauss(0.0, noise_share * resolution_pa)
            shown = max(round(true / resolution_pa) * resolution_pa, 0.0)
            found.append(Sample(time_s, shown, ROOM_K + warm if measured else None))
        air += q / volume_m3 * step
        vapour += evaporation_m3_s / volume_m3 * (ceiling - vapour) * step
    gauge = Gauge(resolution_pa, noise_share=noise_share)
    return Made(found, HoldSetup(gauge, Quantity(volume_m3, 0.05 * volume_m3), ROOM_K))


@pytest.fixture
def hold() -> Callable[..., Made]:
    return make_hold
