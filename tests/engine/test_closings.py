"""Closings and landings with a simulated technician, whose reaction is known, on a scale with a lag of its own."""

from __future__ import annotations

import math
import random
import statistics
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import pytest

from fillmark.engine.closings import BEFORE_S, ENTERED_WITHIN_S, EVERY_S, LEVEL_S, CallWatch
from fillmark.engine.events import Reading
from fillmark.engine.job import Job
from fillmark.engine.landing_doubt import landing_doubt
from fillmark.engine.reaction import MOST_S, learnt

if TYPE_CHECKING:
    from tests.engine.conftest import Bench, MakeBench

START_S = 1_800_000_000.0
FLOW = 2e-3
STEP_KG = 1e-3


@dataclass
class Visit:
    """One charge of 100 g, without a hose, so that what leaves the container is charged.

    Attributes:
        lag_s: of the scale, first order.
        clock_s: by so much the devices' clock is ahead of the service's.
        way: so many readings are under way at a time.
        withholds: the agent delivers nothing.
        net_kg: of the container, where it is declared.
    """

    bench: Bench
    flow_kg_s: float = FLOW
    lag_s: float = 0.5
    clock_s: float = 0.0
    way: int = 0
    noise: random.Random = field(default_factory=lambda: random.Random(0))
    shown_kg: float = 1.0
    sent: list[Reading] = field(default_factory=list)
    delivered: int = 0
    withholds: bool = False
    net_kg: float | None = None

    @property
    def called_s(self) -> float | None:
        calls = self.bench.raised("close-valve-now")
        return calls[0].at_s - START_S if calls else None

    def begin(self) -> None:
        self.bench.open_job()
        self.bench.begin()
        self.bench.mount(gross=1.0, net=self.net_kg)
        self.wait(4.0)
        self.bench.valve("low", is_open=True)
        self.wait(2.0)

    def wait(self, seconds: float, *, flows_until_s: float = 0.0) -> None:
        """Let time pass; refrigerant flows until a moment."""
        end, dt = self.bench.now + seconds, 1.0 / self.bench.hz
        while self.bench.now < end - 1e-9:
            self.instant(dt, flows_until_s)

    def instant(self, dt: float, flows_until_s: float) -> None:
        bench, before = self.bench, self.bench.now
        bench.wait_until(before + dt)
        for number in range(20):
            if before + number * dt / 20.0 < flows_until_s:
                bench.load_kg -= self.flow_kg_s * dt / 20.0
            self.shown_kg += (bench.load_kg - self.shown_kg) * (1.0 - math.exp(-dt / 20.0 / max(self.lag_s, 1e-6)))
        indication = round((self.shown_kg + self.noise.gauss(0.0, 0.3e-3)) / STEP_KG) * STEP_KG
        self.sent.append(Reading(bench.clock + self.clock_s, "scale/mass", indication))
        if not self.withholds:
            self.deliver(len(self.sent) - self.way)

    def deliver(self, until: int) -> None:
        for reading in self.sent[self.delivered : max(until, self.delivered)]:
            self.bench.feed(reading)
        self.delivered = max(until, self.delivered)

    def fill(self, reaction_s: float, entered_s: float = 0.5) -> Landed:
        """Fill until the call comes, shut the valve after the reaction, and enter it a little later."""
        self.begin()
        while self.called_s is None:
            self.instant(1.0 / self.bench.hz, math.inf)
        lands, doubt = self.bench.job.picture.landing, landing_doubt(self.bench.job)
        assert lands is not None
        assert doubt is not None
        shut_s = self.called_s + reaction_s
        entered_s += shut_s
        self.wait(max(min(shut_s, entered_s) - self.bench.now, 0.0), flows_until_s=shut_s)
        self.wait(max(entered_s - self.bench.now, 0.0), flows_until_s=shut_s)
        self.bench.valve("low", is_open=False)
        self.wait(12.0, flows_until_s=shut_s)
        self.bench.close_job()
        return Landed(self.bench.job, lands.if_called_kg, doubt.u_kg, 1.0 - self.bench.load_kg)


@dataclass(frozen=True)
class Landed:
    job: Job
    predicted_kg: float
    u_kg: float
    charged_kg: float

    @property
    def reactions_s(self) -> list[float]:
        return [one.reaction_s for one in self.job.closings]


MakeVisit = Callable[..., Visit]


@pytest.fixture
def make_visit(make_bench: MakeBench) -> MakeVisit:
    """A visit; `earlier` are the reactions of the technician that are known from before, None: his is declared."""

    def make(*, earlier: list[float] | None = None, delay: float = 0.5, hz: float = 5.0, **more: float) -> Visit:
        bench = make_bench(window=(0.095, 0.105), hose=None, delay=delay, hz=hz, reaction=None if earlier else 1.5)
        if earlier is not None:
            known = learnt(earlier)
            setup = replace(bench.setup, reaction_time_s=None, reaction_learnt=known if known.closings else None)
            bench.setup = setup
        return Visit(bench, **more)  # type: ignore[arg-type]  # the fields of Visit by name

    return make


@pytest.mark.parametrize(
    ("reaction_s", "flow", "lag_s", "hz"),
    [
        (0.6, 2e-3, 0.5, 5.0),
        (1.5, 2e-3, 0.0, 5.0),
        (4.0, 1e-3, 0.5, 5.0),
        (1.5, 5e-3, 1.2, 10.0),
        (2.0, 3e-3, 0.5, 2.0),
    ],
)
def test_the_scale_tells_the_reaction_to_a_step_over_the_flow(
    make_visit: MakeVisit, reaction_s: float, flow: float, lag_s: float, hz: float
) -> None:
    """Two levels, each rounded to a step: at most one step apart from the truth (JCGM 100:2008, F.2.2.1), and noise."""
    landed = make_visit(delay=lag_s, hz=hz, flow_kg_s=flow, lag_s=lag_s).fill(reaction_s, entered_s=5.0)
    assert landed.reactions_s == [pytest.approx(reaction_s, abs=STEP_KG / flow)]


@pytest.mark.parametrize(("clock_s", "way"), [(3.0, 0), (-3.0, 0), (-20.0, 2), (1.0, 5)])
def test_clocks_apart_and_late_indications_do_not_spoil_it(make_visit: MakeVisit, clock_s: float, way: int) -> None:
    """What the fastest indication needs is counted to the reaction."""
    landed = make_visit(clock_s=clock_s, way=way).fill(1.5, entered_s=5.0)
    assert landed.reactions_s == [pytest.approx(1.5 + way / 5.0, abs=STEP_KG / FLOW)]


def test_a_valve_entered_before_the_flow_ends_is_taken_at_its_word(make_visit: MakeVisit) -> None:
    """What leaves the container then fills the hose, as the account has it."""
    landed = make_visit().fill(3.0, entered_s=-1.8)
    assert landed.reactions_s == [pytest.approx(1.2, abs=0.2)]


def test_where_the_scale_cannot_tell_the_entry_counts(make_visit: MakeVisit) -> None:
    """At 0.5 g/s a scale of 1 g moves by less than five steps in the time that shows whether it rests."""
    landed = make_visit(flow_kg_s=0.5e-3).fill(2.0, entered_s=0.4)
    assert landed.reactions_s == [pytest.approx(2.4, abs=0.2)]


@pytest.mark.parametrize("reaction_s", [MOST_S + 15.0, -1.5])
def test_who_was_away_or_ahead_of_the_call_teaches_nothing(make_visit: MakeVisit, reaction_s: float) -> None:
    if reaction_s > 0.0:
        assert make_visit().fill(reaction_s).reactions_s == []
        return
    twin, visit = make_visit(way=5), make_visit(way=5)
    twin.fill(1.0)
    assert twin.called_s is not None
    visit.begin()
    visit.wait(50.0, flows_until_s=twin.called_s + reaction_s)
    assert visit.called_s == pytest.approx(
        twin.called_s, abs=0.3
    )  # what shows that the flow has ended is still under way
    visit.wait(1.0)
    visit.bench.valve("low", is_open=False)
    visit.wait(12.0)
    visit.bench.close_job()
    assert visit.bench.job.closings == ()


def test_a_can_that_ran_empty_teaches_nothing(make_visit: MakeVisit) -> None:
    visit = make_visit()
    visit.net_kg = 0.099
    landed = visit.fill(1.0, entered_s=8.0)
    assert visit.bench.raised("container-empty")
    assert landed.reactions_s == []


def test_a_valve_that_nobody_entered_teaches_nothing(make_visit: MakeVisit) -> None:
    assert make_visit().fill(1.0, entered_s=ENTERED_WITHIN_S + 5.0).reactions_s == []


def test_readings_that_come_late_still_teach(make_visit: MakeVisit) -> None:
    """The radio fails from the call on; what the scale saw arrives before the job is closed."""
    visit = make_visit()
    visit.begin()
    while visit.called_s is None:
        visit.instant(0.2, math.inf)
    visit.withholds = True
    visit.wait(5.0, flows_until_s=visit.called_s + 1.2)
    visit.bench.valve("low", is_open=False)
    visit.wait(12.0)
    visit.deliver(len(visit.sent))
    visit.bench.close_job()
    assert [one.reaction_s for one in visit.bench.job.closings] == [pytest.approx(1.2, abs=STEP_KG / FLOW)]


def test_of_a_call_that_came_twice_the_one_that_was_followed_counts(make_visit: MakeVisit) -> None:
    visit = make_visit()
    visit.bench.setup = replace(visit.bench.setup, reaction_time_s=10.0)
    visit.begin()
    while visit.called_s is None:
        visit.instant(0.2, math.inf)
    visit.wait(15.0)  # the flow stops by itself
    assert "close-valve-now" not in visit.bench.active
    while len(visit.bench.raised("close-valve-now")) < 2:
        visit.instant(0.2, math.inf)
    again_s = visit.bench.raised("close-valve-now")[1].at_s - START_S
    visit.wait(3.0, flows_until_s=again_s + 0.8)
    visit.bench.valve("low", is_open=False)
    visit.wait(12.0)
    visit.bench.close_job()
    (closing,) = visit.bench.job.closings
    assert closing.called_s == START_S + again_s
    assert 0.0 < closing.reaction_s <= 3.3


def test_they_are_those_of_the_technician_who_was_entered(make_visit: MakeVisit) -> None:
    visit = make_visit()
    visit.bench.setup = replace(visit.bench.setup, technician="Ada")
    landed = visit.fill(1.0)
    workshop, job = visit.bench.state, landed.job
    assert workshop.reactions_s(" ADA") == tuple(landed.reactions_s)
    assert workshop.reactions_s("Bo") == ()
    corrected = replace(job.course, particulars={"technician": "Bo"})
    corrected_job = replace(job, timeline=replace(job.timeline, course=corrected))
    assert replace(workshop, jobs={job.id: corrected_job}).reactions_s("Bo") == tuple(landed.reactions_s)


def test_what_is_remembered_does_not_grow_with_the_job() -> None:
    watch = CallWatch()
    for number in range(20_000):
        watch = watch.heard([Reading(START_S + number * 0.001, "scale/mass", 1.0)])
    assert len(watch.recent) <= BEFORE_S / EVERY_S + 1
    watch = watch.called(START_S + 20.0, 0.0).heard(
        [Reading(START_S + 20.0 + number * 0.01, "scale/mass", 1.0) for number in range(20_000)]
    )
    assert watch.call is not None
    assert len(watch.call.points) <= (BEFORE_S + MOST_S + LEVEL_S) / EVERY_S + 2


@pytest.mark.parametrize(("usual_s", "clock_s", "way"), [(0.6, 0.0, 0), (3.0, 0.0, 1), (0.9, 1.5, 0)])
def test_with_every_closing_the_charge_lands_nearer_to_the_aim(
    make_visit: MakeVisit, usual_s: float, clock_s: float, way: int
) -> None:
    """The mean error of the later charges is less than half of what the first, with the usual time, makes.

    All of them lie within two standard uncertainties, but for one in twenty at most (JCGM 100:2008, G.1.3: 95 %).
    """
    rng, times, errors, outside = random.Random(11), list[float](), list[float](), 0
    for number in range(12):
        visit = make_visit(earlier=times, clock_s=clock_s, way=way, noise=random.Random(number))
        landed = visit.fill(usual_s * math.exp(rng.gauss(0.0, 0.15)), entered_s=rng.uniform(0.3, 3.0))
        times += landed.reactions_s
        errors.append(landed.charged_kg - 0.1)
        outside += abs(landed.charged_kg - landed.predicted_kg) > 2.0 * landed.u_kg
    assert len(times) == len(errors)
    assert abs(errors[0]) > 1e-3
    assert abs(statistics.fmean(errors[5:])) < 0.5 * abs(errors[0])
    assert abs(statistics.fmean(errors[5:])) < STEP_KG
    assert outside <= 1
