"""One simulated charge in a closed loop: what Fillmark and simpler methods say of it, and what is true.

The technician of the simulator closes the valve when Fillmark says so. While the circuit is open, the shown masses are
compared every LIVE_EVERY_S with the truth at the moment of the indication from which they come.

A simpler method is any object with the members of `Method`; a Python file that names such classes in a mapping METHODS
can be tried beside Fillmark. It gets the same indications and the same valve actions, in order of arrival.
"""

from __future__ import annotations

import json
import math
from bisect import bisect_right
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Protocol

if TYPE_CHECKING:
    from fillmark.engine.job import Job
    from fillmark.intake.replay import Replay
    from fillmark.wire.senml import Record
    from fillmark_sim import Bay, Scenario

LIVE_EVERY_S = 1.0
PULSE_S = 0.25
"""The technician watches a live display: a call comes when it is due, not with the scale's next word."""

FALSE_KG = 0.010
"""A call is false when who obeys it lands so far below the aim; it is missed when so much is above it without one."""

CALL = "close-valve-now"


class Method(Protocol):
    """An estimator of the mass that has left the containers."""

    @property
    def dispensed_kg(self) -> float:
        """Mass that has left all containers so far, kg."""

    def scale(self, time_s: float, indication_kg: float) -> None:
        """One indication."""

    def mounted(self) -> None:
        """A container was put on the pan."""

    def unmounted(self) -> None:
        """It was taken off."""

    def valve(self, name: str, *, is_open: bool) -> None:
        """A valve was turned."""


Methods = Mapping[str, Callable[[float], Method]]
"""Makers of methods by name; each is given the scale's step in kg."""


@dataclass(frozen=True, slots=True)
class Live:
    """What was shown at one moment, less what was true, kg."""

    charged_error_kg: float
    charged_u_kg: float
    dispensed_error_kg: float
    method_errors_kg: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Outcome:
    """One charge. Masses kg; errors are shown less true.

    Attributes:
        method_errors_kg: error of each method's dispensed mass at the end.
        hand_error_kg: where the technician without a scale lands, less the aim; None for a cylinder.
        reached: whether so much went in that a call was owed.
        false_call: whether who obeys the first call lands far short of the aim.
    """

    disturbance: str
    seed: int
    error_kg: float
    u_kg: float
    landing_kg: float
    dispensed_error_kg: float
    method_errors_kg: tuple[float, ...]
    hand_error_kg: float | None
    calls: int
    reached: bool
    false_call: bool
    live: tuple[Live, ...]

    @property
    def missed_call(self) -> bool:
        """Whether the aim was passed without a call."""
        return self.reached and self.calls == 0

    @property
    def covered(self) -> bool:
        """Whether the truth lies within twice the standard uncertainty."""
        return abs(self.error_kg) <= 2.0 * self.u_kg


@dataclass(slots=True)
class _Track:
    """Truth over time."""

    times: list[float] = field(default_factory=list)
    charged: list[float] = field(default_factory=list)
    dispensed: list[float] = field(default_factory=list)

    def note(self, bay: Bay) -> None:
        if not self.times or bay.time_s > self.times[-1]:
            self.times.append(bay.time_s)
            self.charged.append(bay.truth.charged_kg)
            self.dispensed.append(bay.truth.dispensed_kg)

    def at(self, time_s: float, values: Sequence[float]) -> float:
        after = min(max(bisect_right(self.times, time_s), 1), len(self.times) - 1)
        before = after - 1
        share = (time_s - self.times[before]) / (self.times[after] - self.times[before])
        return values[before] + min(max(share, 0.0), 1.0) * (values[after] - values[before])


def run_charge(disturbance: str, seed: int, step_kg: float, methods: Methods, *, by_hand: bool = True) -> Outcome:
    """Simulate one charge of a class and seed on a scale of this step, and judge what was shown."""
    from fillmark.intake.replay import Replay
    from fillmark_sim import Bay
    from fillmark_sim.disturbed import sample_class

    scenario = sample_class(seed, disturbance, step_kg)
    bay, run, track = Bay(scenario, seed), Replay(), _Track()
    tried = [make(step_kg) for make in methods.values()]
    shown: list[tuple[float, float, float, float, tuple[float, ...]]] = []
    for pack in bay.packs(PULSE_S):
        track.note(bay)
        run.take(pack.records, max(run.now_s, pack.arrival_s))
        for method in tried:
            _feed(method, pack.records)
        _note_live(run, tried, shown)
        for stop_point in run.active():
            bay.hear(stop_point)
    track.note(bay)
    (job,) = run.state.jobs.values()
    truth, charged = bay.truth, job.picture.charged
    calls = [moved.at_s for moved in job.journal if moved.id == CALL and moved.after == "unacknowledged active"]
    called_kg = track.at(calls[0] + scenario.technician.reaction_s, track.charged) if calls else math.inf
    return Outcome(
        disturbance, seed, charged.mass_kg - truth.charged_kg, charged.u_kg, truth.charged_kg - truth.aim_kg,
        job.picture.dispensed.mass_kg - truth.dispensed_kg,
        tuple(method.dispensed_kg - truth.dispensed_kg for method in tried),
        _by_hand_kg(scenario, seed) if by_hand else None,
        calls=len(calls),
        reached=bool(calls) or truth.charged_kg > truth.aim_kg + FALSE_KG,
        false_call=called_kg < truth.aim_kg - FALSE_KG,
        live=tuple(
            Live(
                charged_kg - track.at(at_s, track.charged), u_kg, dispensed_kg - track.at(at_s, track.dispensed),
                tuple(one - track.at(at_s, track.dispensed) for one in others),
            )
            for at_s, charged_kg, u_kg, dispensed_kg, others in shown
        ),
    )  # fmt: skip


def _feed(method: Method, records: Sequence[Record]) -> None:
    for record in records:
        if record.name.endswith("scale/mass") and record.value is not None:
            method.scale(record.time_s, record.value)
        elif record.name.endswith("/action") and record.text is not None:
            action = json.loads(record.text)
            if action["type"] == "valve":
                method.valve(action["valve"], is_open=action["open"])
            elif action["type"] == "container.mount":
                method.mounted()
            elif action["type"] == "container.unmount":
                method.unmounted()


def _open_job(run: Replay) -> Job | None:
    return next((run.state.jobs[job_id] for job_id in run.state.open_jobs.values()), None)


def _note_live(
    run: Replay, tried: Sequence[Method], shown: list[tuple[float, float, float, float, tuple[float, ...]]]
) -> None:
    job = _open_job(run)
    if job is None or not job.course.circuit_open:
        return
    picture = job.picture
    if picture.mass_at_s is None or (shown and picture.mass_at_s < shown[-1][0] + LIVE_EVERY_S):
        return
    others = tuple(method.dispensed_kg for method in tried)
    shown.append((picture.mass_at_s, picture.charged.mass_kg, picture.charged.u_kg, picture.dispensed.mass_kg, others))


def _by_hand_kg(scenario: Scenario, seed: int) -> float | None:
    """Where a technician without a scale lands, less the aim. None: nobody judges a large cylinder by its heft."""
    from fillmark_sim import Bay

    if any(one.valve_m > 2.5e-3 for one in scenario.containers):
        return None
    bay = Bay(replace(scenario, technician=replace(scenario.technician, policy="counts_cans"), events=()), seed)
    for _ in bay.packs():
        pass
    return bay.truth.charged_kg - bay.truth.aim_kg
