"""Events: what arrives at the engine. Readings, the technician's actions, and time passing.

Times are Unix seconds. Masses kg, pressures Pa, temperatures K, unless the name says otherwise.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from fillmark.engine.setup import Setup

Draw = Literal["vapour", "liquid"]
ValveName = Literal["low", "high", "container", "vacuum"]


@dataclass(frozen=True, slots=True)
class Reading:
    """One value of one channel at one time.

    Attributes:
        channel: name within the bay, for example "scale/mass".
        value: in the channel's SenML unit (kg, Pa, Cel, %RH), or 0/1 for a flag.
    """

    time_s: float
    channel: str
    value: float


@dataclass(frozen=True, slots=True)
class OpenJob:
    """A job begins on one circuit."""

    time_s: float
    setup: Setup


@dataclass(frozen=True, slots=True)
class CloseJob:
    """The job ends; a step still in progress ends with it."""

    time_s: float


@dataclass(frozen=True, slots=True)
class BeginStep:
    """A step begins."""

    time_s: float
    step: str
    reason: str = ""
    target_abs_pa: float | None = None


@dataclass(frozen=True, slots=True)
class SkipStep:
    """A step is left out."""

    time_s: float
    step: str
    reason: str


@dataclass(frozen=True, slots=True)
class EndStep:
    """The step in progress ends."""

    time_s: float


@dataclass(frozen=True, slots=True)
class MountContainer:
    """A container stands on the pan. None: not known. `heel_kg` cannot be drawn from it.

    A recovery cylinder takes in; `water_capacity_m3` is its volume.
    """

    time_s: float
    container: str
    draw: Draw = "vapour"
    refrigerant: str | None = None
    net_kg: float | None = None
    gross_kg: float | None = None
    tare_kg: float | None = None
    heel_kg: float = 0.0
    volume_m3: float | None = None
    recovers: bool = False
    water_capacity_m3: float | None = None


@dataclass(frozen=True, slots=True)
class UnmountContainer:
    """The container leaves the pan."""

    time_s: float


@dataclass(frozen=True, slots=True)
class SetValve:
    """A valve is opened or closed."""

    time_s: float
    valve: ValveName
    open: bool


@dataclass(frozen=True, slots=True)
class PurgeHose:
    """The hose was purged; None: weigh it."""

    time_s: float
    mass_kg: float | None = None


@dataclass(frozen=True, slots=True)
class SetEngine:
    """The engine, or the compressor of a stationary circuit, runs or stands."""

    time_s: float
    running: bool


@dataclass(frozen=True, slots=True)
class SetPump:
    """The vacuum pump runs or stands."""

    time_s: float
    running: bool


@dataclass(frozen=True, slots=True)
class MoveOil:
    """Oil put into the circuit, or taken out of it (negative), m³."""

    time_s: float
    volume_m3: float
    component: str | None = None


@dataclass(frozen=True, slots=True)
class ReplaceComponent:
    """A part was replaced; `oil_m3` is what the manual says the new one must be given. None: not said."""

    time_s: float
    component: str
    oil_m3: float | None = None


@dataclass(frozen=True, slots=True)
class RecoverHose:
    """What the hose held was recovered; None: not weighed."""

    time_s: float
    mass_kg: float | None = None


@dataclass(frozen=True, slots=True)
class ExplainStep:
    """The technician's answer to a step in mass that no open valve explains."""

    time_s: float
    was: Literal["refrigerant", "handling"]


@dataclass(frozen=True, slots=True)
class CorrectCharge:
    """A correction of the charged mass, signed."""

    time_s: float
    mass_kg: float
    reason: str


@dataclass(frozen=True, slots=True)
class Note:
    """A remark."""

    time_s: float
    text: str


@dataclass(frozen=True, slots=True)
class StateParticulars:
    """What the user enters about people, equipment and refrigerant for the record, by name of the field."""

    time_s: float
    fields: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class TreatStopPoint:
    """Acknowledge, reset, shelve or unshelve a stop point.

    `duration_s` and `reason` belong to shelving alone.
    """

    time_s: float
    treatment: Literal["acknowledge", "reset", "shelve", "unshelve"]
    stop_point: str
    subject: str = ""
    duration_s: float = 0.0
    reason: str = ""


Fact = (
    BeginStep
    | SkipStep
    | EndStep
    | MountContainer
    | UnmountContainer
    | SetValve
    | PurgeHose
    | SetEngine
    | SetPump
    | MoveOil
    | ReplaceComponent
    | RecoverHose
    | ExplainStep
    | CorrectCharge
    | Note
    | StateParticulars
)
"""Actions that are facts about the circuit: they take their place in time, next to the readings."""

Event = Reading | OpenJob | CloseJob | Fact | TreatStopPoint


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry of the log for one bay. Without events it is a tick: only time has passed.

    Attributes:
        position: place in the log, counted from 1.
        received_s: the service's clock when the entry arrived, Unix seconds.
        bay: the bay it belongs to.
        events: what it holds, in the order in which it was sent.
    """

    position: int
    received_s: float
    bay: str
    events: tuple[Event, ...] = ()
