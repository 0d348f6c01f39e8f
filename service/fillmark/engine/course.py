"""The course of a job in order of time: what is declared, what was done, what was read, and what follows from it.

A course knows nothing of when it was told: a reading that comes late takes its place in time (see `timeline`).
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from fillmark.engine.account import Account
from fillmark.engine.around import Conditions
from fillmark.engine.atmosphere import Barometer, barometer
from fillmark.engine.containers import Container, u_of
from fillmark.engine.events import Note
from fillmark.engine.hold_up import NOTHING, HoldUp
from fillmark.engine.hose import Feed, HoseContent
from fillmark.engine.latest import Latest
from fillmark.engine.oil import OilBalance
from fillmark.engine.setup import LAG_SHARE_U, Hose, Setup
from fillmark.engine.stages.stage import Stage
from fillmark.engine.steps import Step, StepRecord
from fillmark.engine.swerves import NONE_READ, Pressures
from fillmark.engine.vacuum.gauge import absolute_pa
from fillmark.engine.weighing.estimate import Estimate
from fillmark.engine.weighing.pan import FASTEST_FLOW_BORE_M, FASTEST_FLOW_KG_S, Pan
from fillmark.engine.weighing.settling import UNSETTLED, Settling
from fillmark.refrigerants.protocol import OutOfRangeError

ROOM_TEMPERATURE_K = 293.15
"""Taken for the hose where no ambient or container temperature is read; it is then listed as assumed."""

AHEAD_S = 2.0
"""So far ahead is looked for what the hose gives: about the time from the call to the shut valve."""

EMPTY_SHARE = 0.05
"""With so little left a container holds vapour only: its density is some 3 % of the liquid's."""

BACK_MARGIN = 1.05
"""So many times the container's saturation pressure must the circuit have to press back: the clamp may be 1.5 K off."""

MOST_FULL = 1.2
"""No hose holds so many times the liquid that its declared size does."""


def fastest_kg_s(hose: Hose | None) -> float:
    """The most that a hose lets through, kg/s: scaled with the bore's area. Common practice, no source."""
    if hose is None:
        return FASTEST_FLOW_KG_S
    return FASTEST_FLOW_KG_S * max((hose.bore_m / FASTEST_FLOW_BORE_M) ** 2, 1.0)


@dataclass(frozen=True, slots=True)
class Feeding:
    """When the container began to feed the hose, what had been dispensed and what the hose held until then.

    `doubt_kg`: what a purge has added to the doubt in that.
    """

    since_s: float
    dispensed_kg: float
    held: HoldUp
    doubt_kg: float = 0.0


@dataclass(frozen=True, slots=True)
class EngineStart:
    """When the engine was last started, and the low side's pressure then, absolute; None: not known."""

    time_s: float
    low_abs_pa: float | None


@dataclass(frozen=True, slots=True)
class Course:
    """State of one job as of `time_s`, a fold of its facts and readings in order of time.

    Attributes:
        valves: recorded state of each valve; a valve that nobody recorded is missing, and unknown.
        stage: what the step in progress has seen, for steps other than charging.
        engine_running: None: unknown.
        engine_start: its last start; None: it never ran in this job, and the static pressure still says something.
        mounted: id of the container on the pan.
        slow_since_s: since when the circuit is open and nearly nothing flows; `slow_from_kg` was dispensed then.
        pressures: of the side that is filled, since a valve was last turned.
        settling: how slowly the scale has been seen to follow its load.
    """

    setup: Setup
    time_s: float
    pan: Pan
    step: Step | None = None
    steps: tuple[StepRecord, ...] = ()
    stage: Stage | None = None
    oil: OilBalance = field(default_factory=OilBalance)
    pump_running: bool | None = None
    valves: Mapping[str, bool] = field(default_factory=dict)
    engine_running: bool | None = None
    engine_start: EngineStart | None = None
    mounted: str | None = None
    containers: Mapping[str, Container] = field(default_factory=dict)
    hose: HoseContent | None = None
    feeding: Feeding | None = None
    account: Account = field(default_factory=Account)
    latest: Mapping[str, Latest] = field(default_factory=dict)
    slow_since_s: float | None = None
    slow_from_kg: float = 0.0
    pressures: Pressures = NONE_READ
    settling: Settling = UNSETTLED
    notes: tuple[Note, ...] = ()
    particulars: Mapping[str, str] = field(default_factory=dict)

    @classmethod
    def begun(cls, setup: Setup, time_s: float) -> Course:
        """The course of a job just opened."""
        hose = None if setup.hose is None else HoseContent(setup.hose, setup.circuit.refrigerant)
        pan = Pan(setup.scale.resolution_kg, setup.scale.delay_or_default_s, fastest_kg_s(setup.hose))
        return cls(setup, time_s, pan, hose=hose)

    @property
    def scale_lag_s(self) -> float:
        """Lag of the indication behind the load, s.

        What was measured stands in for what nobody has declared. A declared delay has the way by radio in it, which the
        settling has not; it gives way to a settling that is slower than its own doubt explains.
        """
        measured_s, declared_s = self.settling.lag_s, self.setup.scale.delay_s
        if measured_s is None:
            return self.setup.scale.delay_or_default_s
        return measured_s if declared_s is None or measured_s > (1.0 + LAG_SHARE_U) * declared_s else declared_s

    @property
    def container(self) -> Container | None:
        """The container on the pan."""
        return None if self.mounted is None else self.containers[self.mounted]

    @property
    def engine_ran(self) -> bool:
        """Whether the engine ever ran in this job."""
        return self.engine_start is not None

    @property
    def valves_recorded(self) -> bool:
        """Whether anybody records valves in this job. Without, every loss of mass must count as drawn."""
        return bool(self.valves)

    @property
    def circuit_open(self) -> bool:
        """Whether refrigerant can pass from hose to circuit, as far as recorded."""
        if not self.valves_recorded:
            container = self.container
            return container is not None and container.start_kg is not None and not container.recovers
        return self.valves.get("low", False) or self.valves.get("high", False)

    def value(self, channel: str) -> float | None:
        """Last reading of a channel, however old; None: never read."""
        latest = self.latest.get(channel)
        return None if latest is None else latest.value

    def barometer(self) -> Barometer:
        """The atmospheric pressure that turns gauge into absolute."""
        return barometer(self.value("ambient/pressure"), self.setup.barometer_pa, self.setup.altitude_m)

    def pressure_abs_pa(self, channel: str) -> float | None:
        """Last absolute pressure of a channel, Pa; None: never read, or refused (see `refused_pressure`)."""
        try:
            return self._absolute_pa(channel)
        except ValueError:
            return None

    def refused_pressure(self, channel: str) -> str | None:
        """Why the last pressure of a channel cannot be; None: it can, or none was read."""
        try:
            self._absolute_pa(channel)
        except ValueError as error:
            return str(error)
        return None

    def _absolute_pa(self, channel: str) -> float | None:
        value = self.value(channel)
        if value is None:
            return None
        if self.reads_gauge(channel):
            gauge = self.setup.vacuum_gauge if channel == "vacuum/pressure" else None
            return absolute_pa(value, self.barometer(), 0.0 if gauge is None else gauge.resolution_pa)
        if value < 0.0:
            raise ValueError(f"{value:.0f} Pa were read as an absolute pressure, which is never negative. Is it gauge?")
        return value

    def reads_gauge(self, channel: str) -> bool:
        """Whether a pressure channel reads against the atmosphere."""
        gauge = self.setup.vacuum_gauge
        if channel == "vacuum/pressure" and gauge is not None:
            return gauge.compound
        return self.setup.gauge_all or channel in self.setup.gauge

    def temperature_k(self, channel: str) -> float | None:
        """Last temperature of a channel, K; None: never read."""
        value = self.value(channel)
        return None if value is None else value + 273.15

    def dispensed(self) -> HoldUp:
        """Mass that has left the containers and its standard uncertainty, kg."""
        return self._drawn(recovers=False)

    def recovered(self) -> tuple[float, float]:
        """Mass that recovery cylinders have taken in and its standard uncertainty, kg."""
        gained = self._drawn(recovers=True)
        return gained.mass_kg, gained.u_kg

    def pan_of(self, container: Container) -> Pan | None:
        """The pan, if this container stands on it."""
        return self.pan if container.id == self.mounted else None

    def _drawn(self, *, recovers: bool) -> HoldUp:
        total = var = 0.0
        for container in self.containers.values():
            if container.recovers is recovers:
                drawn, drawn_var = container.drawn(self.pan_of(container))
                total += drawn
                var += drawn_var
        return HoldUp(total, u_of(var))

    def around(self) -> Conditions:
        """What is known around the hose."""
        temperature = self.temperature_k("ambient/temperature") or self.temperature_k("container/temperature")
        dispensed_kg = self.dispensed().mass_kg
        left_kg, drawn_kg = self._left_and_drawn_kg()
        fill = self.account.fill
        return Conditions(
            temperature_k=ROOM_TEMPERATURE_K if temperature is None else temperature,
            container_pressure_pa=self._container_pressure_pa(left_kg, drawn_kg),
            circuit_pressure_pa=self.pressure_abs_pa(self.fed_channel),
            engine_running=self.engine_running,
            container_k=self.temperature_k("container/temperature"),
            flow_kg_s=max(self.pan.flow_kg_s, 0.0) if self.circuit_open else None,
            through_kg=0.0 if fill is None else max(dispensed_kg - fill.dispensed_start_kg, 0.0),
            dispensed_kg=dispensed_kg,
            clamp_age_s=self._age_s("container/temperature"),
            container_left_kg=left_kg,
            container_full_kg=None if left_kg is None else left_kg + drawn_kg,
        )

    @property
    def fed_channel(self) -> str:
        """The pressure channel of the side that is open to the hose: the low one unless only the high one is."""
        through_high = self.valves.get("high", False) and not self.valves.get("low", False)
        return "high/pressure" if through_high else "low/pressure"

    @property
    def may_return(self) -> bool:
        """Whether refrigerant may flow back: the circuit is open, at a higher pressure than the container.

        Where a pressure or the valves are unknown, nothing flows back. Once it may, it may until they are equal.
        """
        container = self.container
        recovers = container is None or container.recovers
        if recovers or not self.valves_recorded or not self.circuit_open or self.valves.get("container") is False:
            return False
        if any(self._is_silent(channel, self.time_s) for channel in (self.fed_channel, "container/temperature")):
            return False
        around = self.around()
        circuit, saturated = around.circuit_pressure_pa, around.container_pressure_pa
        margin = 1.0 if self.pan.least_kg_s < 0.0 else BACK_MARGIN
        return circuit is not None and saturated is not None and circuit > margin * saturated

    def leant_on(self, swerved_from: Estimate, time_s: float, missed_kg: float) -> bool | None:
        """Whether a flow that has come back to its pace never left it, see `swerves.py`.

        None: unknown, as on a bench that may shake, or where the compressor has not run all the time.
        """
        container, start = self.container, self.engine_start
        ran = self.engine_running and start is not None and start.time_s <= swerved_from.time_s
        if not ran or not self.pan.unrest.is_firm or container is None or container.recovers:
            return None
        container_pa = self.around().container_pressure_pa
        if self._is_silent("container/temperature", time_s) or container_pa is None:
            return None
        usual_kg = swerved_from.flow_kg_s * (time_s - swerved_from.time_s)
        return self.pressures.leant_on(swerved_from.time_s, time_s, container_pa, missed_kg / usual_kg)

    def _is_silent(self, channel: str, time_s: float) -> bool:
        latest = self.latest.get(channel)
        return latest is None or time_s >= latest.stale_at_s(channel)

    def _age_s(self, channel: str) -> float:
        """Age of a channel's last reading by the scale's clock; 0 where there is none."""
        latest = self.latest.get(channel)
        return 0.0 if latest is None else max((self.pan.time_s or latest.time_s) - latest.time_s, 0.0)

    def _left_and_drawn_kg(self) -> tuple[float | None, float]:
        """What the container on the pan still holds, None: unknown; and what was drawn from it."""
        container = self.container
        if container is None or container.start_kg is None:
            return None, 0.0
        denied = self.hose is not None and self.hose.mislabelled
        return None if denied else container.left_kg(self.pan), container.drawn(self.pan)[0]

    def _container_pressure_pa(self, left_kg: float | None, drawn_kg: float) -> float | None:
        """Dew pressure at the container's temperature; None: unknown, or hardly liquid enough left for it."""
        if left_kg is not None and left_kg < EMPTY_SHARE * (left_kg + drawn_kg):
            return None
        temperature = self.temperature_k("container/temperature")
        if temperature is None:
            return None
        try:
            return self.setup.circuit.refrigerant.dew_pressure_pa(temperature)
        except OutOfRangeError:
            return None

    def hold_up(self, time_s: float) -> HoldUp:
        """What the hose holds at `time_s`; nothing where no hose is declared (the picture shows that as unknown)."""
        if self.hose is None:
            return NOTHING
        weighed = self._weighed_hold_up(self.hose)
        return self.hose.now(self.around(), time_s) if weighed is None else weighed

    def inflow_kg_s(self, time_s: float) -> float:
        """Flow into the circuit, kg/s: what comes from the container, and what the hose gives or keeps of it."""
        if not self.circuit_open:
            return 0.0
        flow = self.pan.flow_kg_s + self._hose_gives_kg_s(time_s)
        most = math.inf if self.hose is None else self.hose.lets_through_kg_s(time_s)
        return min(max(flow, 0.0), most)

    def _hose_gives_kg_s(self, time_s: float) -> float:
        """What an open circuit takes out of the hose besides what flows through it, kg/s; below 0: the hose fills."""
        if self.hose is None:
            return 0.0
        around = self.around()
        flow = around.flow_kg_s or 0.0
        drawn = flow * AHEAD_S if self.hose.feed is Feed.FED else 0.0
        ahead = replace(
            around,
            through_kg=around.through_kg + drawn,
            dispensed_kg=around.dispensed_kg + drawn,
            container_left_kg=None if around.container_left_kg is None else around.container_left_kg - drawn,
        )
        then = self.hose.now(ahead, time_s + AHEAD_S)
        return (self.hose.now(around, time_s).mass_kg - then.mass_kg) / AHEAD_S

    def _weighed_hold_up(self, hose: HoseContent) -> HoldUp | None:
        """What the scale saw go into a hose of liquid that is shut at the circuit; None: the model knows better.

        Once the container is shut as well the scale still settles.
        """
        if self.feeding is None or self.circuit_open or hose.fed_with != "liquid":
            return None
        if hose.feed not in {Feed.FED, Feed.SHUT}:
            return None
        u = math.hypot(self.setup.scale.resolution_kg, self.feeding.held.u_kg)
        return HoldUp(self.seen_at_most_kg(hose.full(self.around())), u)

    def seen_at_most_kg(self, full: HoldUp | None) -> float:
        """What the scale says is in the hose, kg, but no more than a hose can hold; `full` None: nobody knows that."""
        seen = self.seen_in_hose_kg()
        return seen if full is None else min(seen, MOST_FULL * full.mass_kg)

    def seen_in_hose_kg(self) -> float:
        """What the scale says is in the hose, kg: what it held when the container began to feed it, and what came.

        What had come before a fill was shut is known better than when it was shut, see `account.Shut`.
        """
        if self.feeding is None:
            return 0.0
        dispensed_kg, fill = self.dispensed().mass_kg, self.account.fill
        since_kg = self.feeding.dispensed_kg if fill is None or fill.shut is None else fill.ended(dispensed_kg).mass_kg
        return max(self.feeding.held.mass_kg + dispensed_kg - since_kg, 0.0)
