"""What is declared when a job is opened: circuit, window, aim, hose, scale, limits."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from fillmark.engine.reaction import UNKNOWN, Reaction
from fillmark.refrigerants.protocol import Refrigerant

DEFAULT_SCALE_DELAY_S = 0.5
"""Settling of a bench scale, when its plate does not say. Common practice, no source."""

DEFAULT_SCALE_STEPS = 5_000.0
"""Capacity of a bench scale, when its plate does not say: 5 kg by 1 g. Common practice, no source."""

LAG_SHARE_U = 1.0 / 3.0
"""Relative standard uncertainty of a scale's lag, declared, measured or taken for granted. Judged."""


class Aim(StrEnum):
    """Where in the label's window to land."""

    MIN = "min"
    MID = "mid"
    MAX = "max"


@dataclass(frozen=True, slots=True)
class Circuit:
    """One refrigerant circuit as its label states it. Masses kg, volume m³ (None: unknown).

    Attributes:
        line_extra_kg: what a long line set adds to the factory charge; the window contains it already.
        stationary: a split system or heat pump; its liquid line is its high side.
    """

    refrigerant: Refrigerant
    charge_min_kg: float
    charge_max_kg: float
    volume_m3: float | None = None
    line_extra_kg: float = 0.0
    stationary: bool = False

    def aim_kg(self, aim: Aim | float) -> float:
        """Mass to aim at. Aiming at the minimum leaves the whole window as a buffer against overshoot."""
        match aim:
            case Aim.MIN:
                return self.charge_min_kg
            case Aim.MID:
                return (self.charge_min_kg + self.charge_max_kg) / 2.0
            case Aim.MAX:
                return self.charge_max_kg
            case _:
                return float(aim)


@dataclass(frozen=True, slots=True)
class Hose:
    """The hose between container and circuit. `shutoff` closes at the container's end when it is unscrewed."""

    length_m: float
    bore_m: float
    shutoff: bool = False


@dataclass(frozen=True, slots=True)
class Scale:
    """What the scale's plate says; None where it says nothing.

    `sheltered`: somebody has said that sun and draught are kept off it.
    """

    resolution_kg: float
    accuracy_class: str | None = None
    capacity_kg: float | None = None
    delay_s: float | None = None
    sheltered: bool = False

    @property
    def delay_or_default_s(self) -> float:
        """Lag of the indication behind the load, s."""
        return DEFAULT_SCALE_DELAY_S if self.delay_s is None else self.delay_s

    @property
    def capacity_or_default_kg(self) -> float:
        """Its capacity (Max), kg."""
        return self.capacity_kg or DEFAULT_SCALE_STEPS * self.resolution_kg


@dataclass(frozen=True, slots=True)
class Limits:
    """Limits given by the user from label or service manual. None: not given."""

    high_pressure_abs_pa: float | None = None
    low_pressure_abs_pa: float | None = None
    container_temperature_k: float | None = None
    test_pressure_abs_pa: float | None = None


@dataclass(frozen=True, slots=True)
class VacuumGauge:
    """The vacuum gauge. A compound gauge reads below the barometer, an absolute one does not know it."""

    resolution_pa: float
    compound: bool = False


@dataclass(frozen=True, slots=True)
class VacuumPump:
    """The vacuum pump by its plate, and the hose before it. None: not declared."""

    speed_m3_s: float | None = None
    ultimate_pa: float | None = None
    hose: Hose | None = None


@dataclass(frozen=True, slots=True)
class Setup:
    """Everything declared at the opening of a job.

    Attributes:
        gauge: local names of the pressure channels that read gauge pressure, for example "low/pressure".
        gauge_all: every pressure channel reads gauge pressure.
        reaction_learnt: from the technician's earlier closings, as known when the job was opened.
    """

    circuit: Circuit
    scale: Scale
    aim: Aim | float = Aim.MID
    hose: Hose | None = None
    limits: Limits = field(default_factory=Limits)
    reaction_time_s: float | None = None
    reaction_learnt: Reaction | None = None
    altitude_m: float | None = None
    barometer_pa: float | None = None
    gauge: frozenset[str] = frozenset()
    gauge_all: bool = False
    vacuum_gauge: VacuumGauge | None = None
    pump: VacuumPump = field(default_factory=VacuumPump)
    technician: str | None = None
    note: str = ""

    @property
    def aim_kg(self) -> float:
        """Mass to aim at, kg."""
        return self.circuit.aim_kg(self.aim)

    @property
    def reaction(self) -> Reaction:
        """From the call to the valve being shut: what is declared goes before what was learnt."""
        if self.reaction_time_s is not None:
            return Reaction.declared(self.reaction_time_s)
        return self.reaction_learnt or UNKNOWN
