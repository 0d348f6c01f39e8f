"""The charging bay: container, hose, circuit, scale, probes, radio and technician in one clock.

Time goes in equal steps, a whole number of them to each reading of the scale. `packs()` simulates as far as it is
asked; whoever watches may call `hear()` between two packs, and the technician reacts to that.
"""

from __future__ import annotations

import json
import math
import random
from collections.abc import Iterator, Mapping

from fillmark.wire.senml import Record
from fillmark_sim.circuit import CircuitModel
from fillmark_sim.container import ContainerModel
from fillmark_sim.devices import Devices
from fillmark_sim.disturbance import Disturbances
from fillmark_sim.fluid import ICE_POINT_K, fluid
from fillmark_sim.line import LEAST_LIQUID_KG, Feed, Line
from fillmark_sim.opening import opening
from fillmark_sim.radio import Pack, RadioModel
from fillmark_sim.scenario import Draw, Scenario
from fillmark_sim.technician import Technician, first_mount
from fillmark_sim.truth import TRACK_EVERY_S, ContainerTruth, Truth

START_S = 1_790_000_000.0
LONGEST_STEP_S = 0.125
LONGEST_RUN_S = 2400.0
ACTION_DELAY_S = 0.05
AFTER_THE_END_S = 3.0
DRY_HOSE_KG = 1e-4
FLOWING_KG = 1e-5
OTHER_WAY_UP: Mapping[Draw, Draw] = {"vapour": "liquid", "liquid": "vapour"}


class Bay:
    """One simulated charge.

    Args:
        scenario: what happens.
        seed: decides all scatter. The same scenario and seed give the same packs.
        start_s: Unix seconds of the beginning.
        bay: first part of the channels' names.
        watched: whether anybody reads the devices; otherwise only actions arrive. The truth is the same.
    """

    def __init__(
        self, scenario: Scenario, seed: int, start_s: float = START_S, bay: str = "bay-1", *, watched: bool = True
    ) -> None:
        self.scenario = scenario
        self.seed = seed
        self.name = bay
        self.time_s = start_s
        self._watched = watched
        self._start_s = start_s
        period = 1.0 / scenario.scale.rate_hz
        self._per_reading = math.ceil(period / LONGEST_STEP_S - 1e-9)
        self._dt_s = period / self._per_reading
        held = scenario.containers[0].holds or scenario.circuit.refrigerant
        self._fluid = fluid(held)
        ambient_k = scenario.ambient_c + ICE_POINT_K
        self.circuit = CircuitModel(scenario.circuit, self._fluid, scenario.ambient_c, scenario.cabin_c)
        self.line = Line(scenario.hose, self._fluid, ambient_k)
        self._stock = [ContainerModel(one, self._fluid, ambient_k) for one in scenario.containers]
        self._initial_kg = self.circuit.mass_kg
        self.truth = Truth(scenario.name, seed, scenario.target_kg, scenario.scale_honest)
        self.truth.containers = [ContainerTruth(one.id, 0.0, one.net_kg) for one in scenario.containers]
        self._open = {"container": False, "low": False, "high": False}
        self.mounted: int | None = None
        self._draw: Draw = "vapour"
        self._turned = False
        self.purging = False
        self.inlet_kg_s = 0.0
        self.port_shut_s = start_s
        self._actions: list[tuple[float, dict[str, object]]] = []
        self._radio = RadioModel(scenario.radio, self._rng("radio"))
        self._disturbances = Disturbances(scenario.events)
        self._devices = Devices(self, self._rng)
        self._technician = Technician(self, self._rng("technician"))

    def _rng(self, part: str) -> random.Random:
        return random.Random(f"{self.scenario.name}/{self.seed}/{part}")

    def hear(self, stop_point_id: str) -> None:
        """A stop point is active on the display that the technician looks at."""
        self._technician.hear(stop_point_id)

    @property
    def charging(self) -> bool:
        """Whether a port is open to the hose."""
        return self._open["low"] or self._open["high"]

    @property
    def load_kg(self) -> float:
        """What truly presses on the pan."""
        rest = self.scenario.scale.rest_kg
        disturbed = self._disturbances.load_kg(self.time_s)
        if self.mounted is None or self._disturbances.active("lift", self.time_s):
            return rest + disturbed
        tug = self.scenario.scale.tug_kg_per_bar * self.line.vessel.pressure_pa / 1e5
        return rest + self._stock[self.mounted].gross_kg + tug + disturbed

    @property
    def container_k(self) -> float:
        """Temperature of the mounted container, or of the air."""
        if self.mounted is None:
            return self.scenario.ambient_c + ICE_POINT_K
        return self._stock[self.mounted].vessel.temperature_k

    def packs(self, pulse_s: float = math.inf) -> Iterator[Pack]:
        """Everything that arrives, in order of arrival. Simulates as it goes; the end of the job is the end.

        Args:
            pulse_s: after so much time an empty pack comes between: a display that looks at the clock as well.
        """
        pulsed_s = self.time_s
        count = 0
        ends_s: float | None = None
        while ends_s is None or self.time_s < ends_s:
            if self._watched and count % self._per_reading == 0:
                self._read(count // self._per_reading)
            self._technician.step()
            self._tell()
            self._step()
            count += 1
            self.time_s = self._start_s + count * self._dt_s
            if ends_s is None and (self._technician.finished or count * self._dt_s > LONGEST_RUN_S):
                ends_s = self.time_s + AFTER_THE_END_S
            yield from self._radio.arrived(self.time_s)
            if self.time_s - pulsed_s >= pulse_s:
                pulsed_s = self.time_s
                yield Pack(round(self.time_s, 3), ())
        yield from self._radio.arrived(math.inf)

    def _read(self, number: int) -> None:
        for device in ("scale", "probe"):
            if self._disturbances.ended("backlog", device, self.time_s):
                self._radio.release(self.time_s)
        self._devices.read(number, self._radio, self._disturbances)

    def _tell(self) -> None:
        for time_s, action in self._actions:
            record = Record(f"{self.name}/action", round(time_s, 3), text=json.dumps(action, separators=(",", ":")))
            self._radio.tell(time_s + ACTION_DELAY_S, record)
        self._actions.clear()

    def _step(self) -> None:
        dt_s = self._dt_s
        one = None if self.mounted is None else self._stock[self.mounted]
        opening = self._disturb(one) if self._disturbances.in_the_flow else 1.0
        feed = None
        if one is not None and self._open["container"]:
            feed = Feed(one.vessel, one.data.valve_m, OTHER_WAY_UP[self._draw] if self._turned else self._draw)
        sink = self.circuit.low if self._open["low"] else self.circuit.high if self._open["high"] else None
        flows = self.line.step(dt_s, feed, sink, purge=self.purging, opening=opening)
        self.inlet_kg_s = flows.inlet_kg / dt_s
        self.circuit.step(dt_s)
        for container in self._stock:
            container.step(dt_s)
        if self._watched:
            self._devices.follow(dt_s)
        truth = self.truth
        truth.purged_kg += flows.purged_kg
        truth.dispensed_kg += flows.inlet_kg
        truth.charged_kg = self.circuit.mass_kg - self._initial_kg
        truth.hose_kg = self.line.vessel.mass_kg
        if self.mounted is not None and one is not None:
            truth.containers[self.mounted].drawn_kg += flows.inlet_kg
            truth.containers[self.mounted].left_kg = one.vessel.mass_kg
        self._mark(flows.inlet_kg)

    def _disturb(self, one: ContainerModel | None) -> float:
        """Let the events act on container and compressor. Returns the share of the port's opening that is left."""
        now_s, events = self.time_s, self._disturbances
        self._turned = events.active("turned", now_s)
        self.circuit.stalled = events.active("stall", now_s)
        if one is not None:
            one.held = events.active("hand", now_s)
        return events.opening(now_s)

    def _mark(self, inlet_kg: float) -> None:
        truth, circuit = self.truth, self.scenario.circuit
        if inlet_kg > FLOWING_KG and "first-flow" not in truth.at:
            self._disturbances.begin(self.time_s)
            truth.mark("first-flow", self.time_s)
        self._disturbances.charged(truth.charged_kg, self.time_s)
        if truth.charged_kg >= circuit.charge_min_kg:
            truth.mark("window-reached", self.time_s)
        if truth.charged_kg >= truth.aim_kg:
            truth.mark("aim-reached", self.time_s)
        if truth.charged_kg > circuit.charge_max_kg:
            truth.mark("window-exceeded", self.time_s)
        if not truth.track or self.time_s - truth.track[-1][0] >= TRACK_EVERY_S - 1e-6:
            truth.track.append((self.time_s, truth.charged_kg, truth.hose_kg))

    # What the technician's hands do.

    def act(self, type_: str, **fields: object) -> None:
        """Enter an action. It carries the moment of the tap, a little after the deed."""
        time_s = self.time_s + self.scenario.technician.tap_s
        self._actions.append((time_s, {"type": type_, **fields}))

    def open_job(self) -> None:
        """Enter the job as the scenario declares it."""
        self.act("job.open", **opening(self.scenario))

    def place_container(self, number: int, draw: Draw) -> None:
        """Stand a container on the pan and screw the hose on."""
        self.mounted = number
        self._draw = draw

    def say_mounted(self) -> None:
        """Enter which container stands there."""
        if self.mounted is None:
            return
        one = self._stock[self.mounted].data
        self.act("container.mount", **first_mount(one), draw=self._draw)

    def lift_container(self) -> bool:
        """Take the container off. Without a shut-off the hose's content is lost; returns whether it was."""
        self.mounted = None
        self._disturbances.lifted(self.time_s)
        if self.scenario.hose.shutoff:
            return False
        self.truth.lost_kg += self.line.vessel.empty()
        self.truth.hose_kg = 0.0
        return True

    def warm_container(self, bath_c: float) -> None:
        """Put warm water round the container that was lifted last."""
        for one in self._stock:
            if one.drawn:
                one.stand_in_water(bath_c)

    def turn_valve(self, valve: str, *, opened: bool) -> None:
        """Open or close a valve and enter it."""
        if not opened and valve != "container":
            self.port_shut_s = self.time_s
        if self._open[valve] == opened:
            return
        self._open[valve] = opened
        self.act("valve", valve=valve, open=opened)

    def start_engine(self, *, running: bool) -> None:
        """Start or stop the engine with the A/C on, and enter it."""
        self.circuit.running = running
        self.act("engine", running=running)

    def recover_hose(self) -> None:
        """Draw what the hose holds into a recovery machine, and enter what that weighed (to a gram)."""
        mass_kg = self.line.vessel.empty()
        self.truth.hose_kg = 0.0
        self.truth.lost_kg += mass_kg
        self.truth.recovered_kg += mass_kg
        self.act("hose.recovered", mass=f"{mass_kg * 1000.0:.0f} g")

    def liquid_left(self) -> bool:
        """Whether the mounted container still has liquid: he feels it slosh."""
        return self.mounted is not None and self._stock[self.mounted].vessel.liquid_kg > LEAST_LIQUID_KG * 10

    def container_in_air(self) -> bool:
        """Whether no water stands round the mounted container."""
        return self.mounted is not None and not self._stock[self.mounted].in_water

    def hose_is_dry(self) -> bool:
        """Whether no liquid is left in the hose."""
        return self.line.vessel.liquid_kg < DRY_HOSE_KG
