"""What a pull-down is told beside its samples, and what it answers."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from fillmark.engine.quantity import Quantity
from fillmark.engine.report import NOTHING_SAID, Finding
from fillmark.engine.setup import Hose
from fillmark.engine.vacuum.gauge import Gauge
from fillmark.engine.vacuum.water import Phase


class PumpDownTooShortError(ValueError):
    """Not enough of a pull-down to fit."""


class Cause(StrEnum):
    """What holds the pressure up or the pump back."""

    WET = "wet"
    OUTGASSING = "outgassing"
    HOSE_THIN = "hose_thin"
    PUMP_SMALL = "pump_small"
    SLOWER_THAN_DECLARED = "slower_than_declared"
    LEAKING = "leaking"
    PUMP_LIMIT = "pump_limit"


@dataclass(frozen=True, slots=True)
class PumpSetup:
    """What is known beside the samples. None: unknown.

    Attributes:
        target_pa: pressure wanted.
        speed_m3_s: the pump's speed, as its plate says.
        ultimate_pa: what the pump reaches on its own.
        hose: the hose to the pump.
    """

    gauge: Gauge
    volume_m3: Quantity | None = None
    coldest_k: float | None = None
    target_pa: float | None = None
    speed_m3_s: float | None = None
    ultimate_pa: float | None = None
    hose: Hose | None = None


@dataclass(frozen=True, slots=True)
class PumpDown:
    """The result. None: unknown, or never.

    Attributes:
        plateau_pa: where the pressure goes.
        plateau_reached: whether the exponential has died away.
        tau_s: V / S_eff.
        effective_speed_m3_s: at the circuit, in the last decade.
        air_speed_m3_s: the same between 3 and 60 kPa, where there is nothing to pump but air.
        expected_speed_m3_s: what pump and hose would give at this pressure by their declared sizes.
        gas_load_pa_m3_s: what comes in while the pump runs: leak and vapour together.
        to_target_s: time still needed; 0 once there.
        target_in_reach: whether the plateau lies below the target; None: no target or too early.
        boils: whether water boils off at the coldest part.
        boils_below_k: temperature of water's boiling at the present pressure; parts colder than it keep their water.
        causes: what the data say.
        open_causes: what the data leave open.
    """

    pressure_pa: float
    duration_s: float
    plateau_pa: Quantity
    plateau_reached: bool
    falling: bool
    tau_s: Quantity
    effective_speed_m3_s: Quantity | None
    air_speed_m3_s: Quantity | None
    expected_speed_m3_s: float | None
    gas_load_pa_m3_s: Quantity | None
    to_target_s: float | None
    target_in_reach: bool | None
    boils: bool | None
    boils_below_k: float | None
    water_phase: Phase
    causes: tuple[Cause, ...]
    open_causes: tuple[Cause, ...]
    finding: Finding = NOTHING_SAID
