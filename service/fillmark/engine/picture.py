"""The picture of a job at one moment: everything that stop points and displays are made from."""

from __future__ import annotations

from dataclasses import dataclass

from fillmark.engine.budget import Term, charge_budget, combined_u_kg, probability_between
from fillmark.engine.close_call import Landing, landing
from fillmark.engine.course import Course
from fillmark.engine.delay import NO_DELAY, Delay
from fillmark.engine.hold_up import HoldUp
from fillmark.engine.hose import Feed
from fillmark.engine.steps import Step


@dataclass(frozen=True, slots=True)
class Picture:
    """Derived values at `now_s`. Masses kg, None: unknown.

    Attributes:
        charged: inside the circuit, with the combined standard uncertainty.
        hose: None where no hose is declared.
        flow_kg_s: out of the container, below 0 where it flows back; None before the pan was read.
        landing: None before anything can flow.
        mass_at_s: time of the indication from which the masses come.
    """

    course: Course
    now_s: float
    charged: HoldUp
    dispensed: HoldUp
    hose: HoldUp | None
    budget: tuple[Term, ...]
    flow_kg_s: float | None
    mass_at_s: float | None
    landing: Landing | None
    probability_in_window: float

    @property
    def charging(self) -> bool:
        """Whether the charging step is in progress. A job whose steps nobody records charges once a can is on."""
        course = self.course
        container = course.container
        return course.step is Step.CHARGING or (not course.steps and container is not None and not container.recovers)

    @property
    def weighing(self) -> bool:
        """Whether a mass on the pan matters: in charging and in recovery."""
        return self.charging or self.course.step is Step.RECOVERY

    @property
    def working(self) -> bool:
        """Whether a step is in progress, recorded or not."""
        return self.charging or self.course.step is not None

    def age_s(self, channel: str) -> float | None:
        """Age of a channel's last reading; None: never read."""
        latest = self.course.latest.get(channel)
        return None if latest is None else max(self.now_s - latest.time_s, 0.0)

    def live(self, channel: str) -> bool:
        """Whether the channel's last reading may be taken for the present."""
        latest = self.course.latest.get(channel)
        return latest is not None and self.now_s < latest.stale_at_s(channel)


def picture(course: Course, now_s: float, delay: Delay = NO_DELAY) -> Picture:
    """Derive everything from the course at `now_s`. `delay`: how late the scale's indications are."""
    hose = course.hold_up(now_s)
    dispensed = course.dispensed()
    model = course.account.charged(dispensed.mass_kg, hose, course.pan.weighed_var)
    budget = charge_budget(course, model)
    charged = HoldUp(model.mass_kg, combined_u_kg(budget))
    pan = course.pan
    read = course.mounted is not None and pan.time_s is not None and pan.readings > 0
    scale = course.latest.get("scale/mass")
    circuit = course.setup.circuit
    return Picture(
        course=course,
        now_s=now_s,
        charged=charged,
        dispensed=dispensed,
        hose=None if course.hose is None else hose,
        budget=budget,
        flow_kg_s=max(pan.flow_kg_s, pan.least_kg_s) if read else None,
        mass_at_s=None if scale is None else scale.time_s,
        landing=_landing(course, now_s, charged.mass_kg, hose.mass_kg, delay) if read else None,
        probability_in_window=probability_between(
            circuit.charge_min_kg, circuit.charge_max_kg, charged.mass_kg, charged.u_kg
        ),
    )


def _landing(course: Course, now_s: float, charged_kg: float, hose_kg: float, delay: Delay) -> Landing:
    pan = course.pan
    only_container = course.circuit_open and not (course.valves.get("low") or course.valves.get("high"))
    feeds = course.hose is not None and course.hose.feed is Feed.FED
    return landing(
        shown_kg=charged_kg,
        flow_kg_s=course.inflow_kg_s(now_s),
        age_s=0.0 if pan.time_s is None else delay.age_s(now_s, pan.time_s),
        reaction_s=delay.shut_after_s(course.setup.reaction),
        after_run_kg=hose_kg if only_container and feeds and course.engine_running else 0.0,
        aim_kg=course.setup.aim_kg,
    )
