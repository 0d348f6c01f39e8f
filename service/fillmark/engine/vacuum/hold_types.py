"""What a vacuum hold is told beside its samples, and what it answers."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from fillmark.engine.atmosphere import STANDARD_PA
from fillmark.engine.quantity import Quantity
from fillmark.engine.report import NOTHING_SAID, Finding
from fillmark.engine.vacuum.gauge import Gauge
from fillmark.engine.vacuum.rise_models import Shape

WANTED_RISE_PA_S = 66.7 / 1800.0
"""A rise of 500 micron within half an hour is the least that every hold should exclude. Common practice, no source."""

DRIFT_U_K = 1.5
"""Standard uncertainty of the temperature over a hold that nobody measured, K. Assumed, no source; simulated
ones wander by up to 3 K."""


class Verdict(StrEnum):
    """What the hold says."""

    TIGHT = "tight"
    LEAKING = "leaking"
    WET = "wet_or_outgassing"
    WET_LEAK_OPEN = "wet_leak_not_excluded"
    BOTH = "leaking_and_wet"
    UNDECIDED = "undecided"


class Doubt(StrEnum):
    """Why a hold is undecided."""

    NOT_SENSITIVE = "not_sensitive"
    AT_WATER_SATURATION = "at_water_saturation"
    BELOW_SCALE = "below_scale"
    LEAK_OR_MOISTURE = "leak_or_moisture"


class HoldTooShortError(ValueError):
    """Not enough samples to judge a hold."""


@dataclass(frozen=True, slots=True)
class HoldSetup:
    """What is known beside the samples.

    Attributes:
        gauge: resolution and noise.
        volume_m3: of the circuit with hoses; None: unknown.
        coldest_k: temperature of the coldest part; None: unknown.
        wanted_rise_pa_s: smallest rise that must not be missed, Pa/s.
        wanted_q_pa_m3_s: smallest leak that must not be missed; counts before the rise where the volume is known.
        drift_u_k: see DRIFT_U_K.
        atmosphere_pa: only bends the line of a gross leak.
    """

    gauge: Gauge
    volume_m3: Quantity | None = None
    coldest_k: float | None = None
    wanted_rise_pa_s: float = WANTED_RISE_PA_S
    wanted_q_pa_m3_s: float | None = None
    drift_u_k: float = DRIFT_U_K
    atmosphere_pa: float = STANDARD_PA

    @property
    def wanted_pa_s(self) -> float:
        """The rise that must not be missed, Pa/s."""
        if self.wanted_q_pa_m3_s is None or self.volume_m3 is None:
            return self.wanted_rise_pa_s
        return self.wanted_q_pa_m3_s / self.volume_m3.value


@dataclass(frozen=True, slots=True)
class Hold:
    """The result. Pressures Pa, rates Pa/s, flows Pa m³/s. None: unknown.

    Attributes:
        rise_pa: last block less the first, and its uncertainty.
        thermal_rise_pa: what temperature alone explains.
        slope_pa_s: the leak's share of the rise rate if there is one.
        leak_bound_pa_s: no leak above it, with 95 %, if vapour explains what it can.
        q_pa_m3_s: the leak's pV flow.
        detection_limit: a leak of that slope would have been detected half the time; `sure_limit` 95 times in 100.
        limit_q_pa_m3_s, sure_q_pa_m3_s: the same as pV flows.
        ceiling_pa: water's saturation pressure at the coldest part.
        vapour_rise_pa: how far vapour would raise the pressure in the end, if the verdict names it.
        leak_need, vapour_need: in standard deviations, see `hold.py`.
        expected_need: the greater of them that data without noise would have shown, by the Fisher information.
        odds: shares of the four shapes by BIC.
        wanted_hold_s: how long a hold would need to be decided; None: this one is enough, or no hold can.
    """

    verdict: Verdict
    doubt: Doubt | None
    duration_s: float
    start_pa: float
    rise_pa: Quantity
    thermal_rise_pa: Quantity
    slope_pa_s: Quantity
    leak_bound_pa_s: float
    q_pa_m3_s: Quantity | None
    detected: bool
    detection_limit_pa_s: float
    sure_limit_pa_s: float
    limit_q_pa_m3_s: float | None
    sure_q_pa_m3_s: float | None
    ceiling_pa: float | None
    vapour_rise_pa: float | None
    leak_need: float
    vapour_need: float
    expected_need: float
    odds: dict[Shape, float]
    wanted_hold_s: float | None
    finding: Finding = NOTHING_SAID
