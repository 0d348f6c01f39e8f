"""A bench for the engine: a container on a scale, valves, probes, and a clock that ticks as the service's does.

What the bench holds for true is `load_kg`, what stands on the pan; the engine sees it through the scale's step only.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import pytest

from fillmark.engine import events as ev
from fillmark.engine import workshop
from fillmark.engine.errors import ActionRefusedError
from fillmark.engine.events import Entry, Event, Reading
from fillmark.engine.job import Job, Transition
from fillmark.engine.setup import Aim, Circuit, Hose, Limits, Scale, Setup
from fillmark.engine.view import job_view
from fillmark.engine.workshop import Workshop
from fillmark.refrigerants.protocol import Refrigerant

START_S = 1_800_000_000.0
"""A Unix time of our days, so that the clock is as coarse as a real one: 0.24 µs."""


@dataclass(frozen=True, slots=True)
class ToyFluid:
    """A refrigerant whose properties are constants. Numbers are round and belong to no fluid.

    But its bubble point rises by as much as its heat of evaporation says (Clausius and Clapeyron).
    """

    name: str = "R-0"
    zeotropic: bool = False
    critical_temperature_k: float = 400.0
    pressure_pa: float = 600e3
    temperature_k: float = 263.15
    liquid_kg_m3: float = 1000.0
    vapour_kg_m3: float = 25.0
    evaporation_j_kg: float = 175e3

    def bubble_pressure_pa(self, temperature_k: float) -> float:
        takes_m3_kg = 1.0 / self.vapour_kg_m3 - 1.0 / self.liquid_kg_m3
        rises_pa = self.evaporation_j_kg / takes_m3_kg * math.log(temperature_k / self.temperature_k)
        return self.pressure_pa + rises_pa

    def dew_pressure_pa(self, temperature_k: float) -> float:
        del temperature_k
        return self.pressure_pa

    def bubble_temperature_k(self, pressure_pa: float) -> float:
        del pressure_pa
        return self.temperature_k

    def dew_temperature_k(self, pressure_pa: float) -> float:
        del pressure_pa
        return self.temperature_k

    def saturated_liquid_density_kg_m3(self, temperature_k: float) -> float:
        del temperature_k
        return self.liquid_kg_m3

    def saturated_vapour_density_kg_m3(self, temperature_k: float) -> float:
        del temperature_k
        return self.vapour_kg_m3

    def vapour_density_kg_m3(self, temperature_k: float, pressure_pa: float) -> float:
        del temperature_k, pressure_pa
        return self.vapour_kg_m3


@dataclass
class Bench:
    """Feeds entries to the workshop. Times inside are seconds since the bench began.

    Attributes:
        load_kg: what truly stands on the pan.
        extra_kg: what a hand, a hose or a tool adds to it.
        silent: the scale says nothing.
        hz: readings of the scale a second.
    """

    setup: Setup
    bay: str = "bay-1"
    load_kg: float = 0.0
    extra_kg: float = 0.0
    silent: bool = False
    hz: float = 5.0
    ticking: bool = True
    now: float = 0.0
    state: Workshop = field(default_factory=Workshop)
    moved: list[Transition] = field(default_factory=list)
    probes: dict[str, float] = field(default_factory=dict)

    # -- the log -----------------------------------------------------------------------------------------------------
    @property
    def clock(self) -> float:
        return START_S + self.now

    def feed(self, *events: Event, bay: str | None = None) -> None:
        """One entry that arrives now."""
        entry = Entry(self.state.position + 1, self.clock, bay or self.bay, events)
        self.state, out = workshop.step(self.state, entry)
        self.moved += [transition for _, transition in out.transitions]

    def wait_until(self, then: float) -> None:
        """Let time pass, with the ticks that the engine asked for."""
        target = START_S + then
        while self.ticking and (wake := self.state.wake_at_s) is not None and wake <= target:
            for bay in self.state.bays_due(wake):
                self.state, out = workshop.step(self.state, Entry(self.state.position + 1, wake, bay))
                self.moved += [transition for _, transition in out.transitions]
        self.now = then

    def refused(self, *events: Event) -> str:
        """The code with which an entry is refused. The state must be as it was, to the last field."""
        before, said = self.state, json.dumps(self.view) if self.state.jobs else ""
        with pytest.raises(ActionRefusedError) as caught:
            self.feed(*events)
        assert self.state is before
        assert self.state == before
        assert (json.dumps(self.view) if self.state.jobs else "") == said
        assert str(caught.value) == caught.value.detail
        assert caught.value.field
        return caught.value.code

    # -- the technician ----------------------------------------------------------------------------------------------
    def open_job(self) -> Bench:
        self.feed(ev.OpenJob(self.clock, self.setup))
        return self

    def close_job(self) -> None:
        self.feed(ev.CloseJob(self.clock))

    def begin(self, step: str = "charging", reason: str = "a bench for one step only") -> None:
        self.feed(ev.BeginStep(self.clock, step, reason))

    def end(self) -> None:
        self.feed(ev.EndStep(self.clock))

    def mount(
        self,
        container: str = "C1",
        *,
        gross: float = 0.5,
        draw: ev.Draw = "vapour",
        net: float | None = None,
        refrigerant: str | None = None,
        tare: float | None = None,
        heel: float = 0.0,
    ) -> None:
        self.load_kg = gross
        self.feed(
            ev.MountContainer(
                self.clock, container, draw, refrigerant=refrigerant, net_kg=net, tare_kg=tare, heel_kg=heel
            )
        )

    def unmount(self) -> None:
        self.feed(ev.UnmountContainer(self.clock))
        self.load_kg = 0.0

    def valve(self, valve: ev.ValveName, *, is_open: bool) -> None:
        self.feed(ev.SetValve(self.clock, valve, is_open))

    def engine(self, *, running: bool) -> None:
        self.feed(ev.SetEngine(self.clock, running))

    def treat(self, treatment: str, stop_point: str, subject: str = "", duration_s: float = 0.0) -> None:
        self.feed(ev.TreatStopPoint(self.clock, treatment, stop_point, subject, duration_s))  # type: ignore[arg-type]  # any word is a test's right

    def read(self, channel: str, value: float, *, at: float | None = None) -> None:
        self.feed(Reading(START_S + (self.now if at is None else at), channel, value))

    # -- the scale ---------------------------------------------------------------------------------------------------
    def shown(self) -> float:
        """What the scale shows now."""
        step = self.setup.scale.resolution_kg
        return round((self.load_kg + self.extra_kg) / step) * step

    def run(self, seconds: float, *, flow: float = 0.0) -> None:
        """Let `flow` kg/s leave the container for a while; scale and probes speak."""
        end, step = self.now + seconds, 1.0 / self.hz
        while end - self.now > 1e-6:
            dt = min(step, end - self.now)
            self.wait_until(self.now + dt)
            self.load_kg -= flow * dt
            said: list[Event] = [Reading(self.clock, name, value) for name, value in self.probes.items()]
            if not self.silent:
                said.append(Reading(self.clock, "scale/mass", self.shown()))
            if said:
                self.feed(*said)

    def lean(self, mass_kg: float, over_s: float, *, flow: float = 0.0) -> None:
        """Something leans on the pan, or pulls, more and more: evenly in ten parts, from nothing."""
        for tenth in range(1, 11):
            self.extra_kg = mass_kg * tenth / 10.0
            self.run(over_s / 10.0, flow=flow)

    def ready(self, *, gross: float = 0.5, draw: ev.Draw = "vapour", net: float | None = None) -> Bench:
        """Job open, charging, container on the pan and weighed."""
        self.open_job()
        self.begin()
        self.mount(gross=gross, draw=draw, net=net)
        self.run(4.0)
        return self

    # -- what the engine says ----------------------------------------------------------------------------------------
    @property
    def job(self) -> Job:
        open_job = self.state.open_job(self.bay)
        return list(self.state.jobs.values())[-1] if open_job is None else open_job

    @property
    def view(self) -> dict[str, object]:
        return job_view(self.job)

    @property
    def charged_kg(self) -> float:
        return self.job.picture.charged.mass_kg

    @property
    def active(self) -> set[str]:
        return {stop_point for stop_point, _ in self.job.active}

    def raised(self, stop_point: str) -> list[Transition]:
        """Every raising of a stop point so far."""
        return [t for t in self.moved if t.id == stop_point and t.after.value == "unacknowledged active"]


MakeBench = Callable[..., Bench]

SERVICE_HOSE = Hose(1.8, 4.8e-3)
"""The service hose of the reference values: 33 ml."""


@pytest.fixture
def toy() -> ToyFluid:
    return ToyFluid()


@pytest.fixture
def make_bench(toy: ToyFluid) -> MakeBench:
    """A bench of any kind; without arguments 480 to 520 g of the toy fluid, hose 1.8 m × 4.8 mm, a 1 g scale."""

    def make(
        *,
        fluid: Refrigerant = toy,
        window: tuple[float, float] = (0.480, 0.520),
        aim: Aim | float = Aim.MID,
        hose: Hose | None = SERVICE_HOSE,
        resolution: float = 1e-3,
        delay: float = 0.0,
        reaction: float | None = 1.5,
        capacity: float | None = None,
        limits: Limits | None = None,
        volume: float | None = None,
        gauge: frozenset[str] = frozenset(),
        altitude: float | None = None,
        hz: float = 5.0,
        bay: str = "bay-1",
    ) -> Bench:
        return Bench(
            Setup(
                circuit=Circuit(fluid, window[0], window[1], volume),
                scale=Scale(resolution, "III", capacity, delay),
                aim=aim,
                hose=hose,
                limits=limits or Limits(),
                reaction_time_s=reaction,
                gauge=gauge,
                altitude_m=altitude,
            ),
            bay=bay,
            hz=hz,
        )

    return make


@pytest.fixture
def bench(make_bench: MakeBench) -> Iterator[Bench]:
    """The usual bench with a job open. What it ends with must be plain JSON without NaN."""
    made = make_bench().open_job()
    yield made
    json.dumps(made.view, allow_nan=False)
