"""Vacuum gauges: an absolute one with steps of 1 to 100 Pa, and the needle of a compound gauge (1 inHg)."""

from __future__ import annotations

import random
from dataclasses import dataclass

from fillmark_sim.scale import to_step

INHG_PA = 3386.389
"""Conventional inch of mercury (NIST SP 811, appendix B.8)."""


@dataclass(frozen=True, slots=True)
class GaugeData:
    """A vacuum gauge.

    Attributes:
        resolution_pa: its step.
        noise_pa: scatter of a reading before it is rounded, standard deviation.
        zero_pa: constant error.
        drift_pa_per_h: drift of the zero.
        compound: a needle that shows the pressure against the air outside.
        most_pa: where an absolute gauge ends.
    """

    resolution_pa: float = 10.0
    noise_pa: float = 3.0
    zero_pa: float = 0.0
    drift_pa_per_h: float = 0.0
    compound: bool = False
    most_pa: float = 1.2e5


class Gauge:
    """One gauge in use."""

    def __init__(self, data: GaugeData, rng: random.Random) -> None:
        self.data = data
        self._rng = rng

    def read(self, elapsed_s: float, pressure_pa: float, atmosphere_pa: float) -> float:
        """What it shows (Pa): absolute, or against the atmosphere (negative) for a compound gauge."""
        data = self.data
        error = data.zero_pa + data.drift_pa_per_h * elapsed_s / 3600.0 + self._rng.gauss(0.0, data.noise_pa)
        if data.compound:
            return to_step(pressure_pa - atmosphere_pa + error, data.resolution_pa)
        return min(data.most_pa, max(0.0, to_step(pressure_pa + error, data.resolution_pa)))
