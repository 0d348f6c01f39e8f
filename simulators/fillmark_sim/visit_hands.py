"""What the technician of a visit does in each step but charging, in which order, and what he enters.

Every step is a generator, as in `technician`: it yields how long the next thing takes (s), or a question that is asked
at every step of time until the answer is yes.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from typing import TYPE_CHECKING

from fillmark_sim.recovery import CylinderModel, RecoveryPlant
from fillmark_sim.technician import Wait
from fillmark_sim.visit_scenario import Charge, Evacuate, Hold, NitrogenTest, Recover, Repair, Skip

if TYPE_CHECKING:
    from fillmark_sim.visit_bench import VisitBench

CYLINDER_CALL = "cylinder-fill-limit"
PRESSURE_CALL = "test-pressure-limit"
BELIEVES_FROM = 0.9
SEES_FROM = 0.97
LONGEST_PULL_S = 1500.0
FILLING_S = 75.0
VENTING_S = 45.0
LAST_MINUTE_S = 60.0
CLEARING_S = 25.0


class Hands:
    """The script of one visit."""

    def __init__(self, visit: VisitBench, rng: random.Random) -> None:
        self._visit = visit
        self._rng = rng
        self._called = False

    def hear(self, stop_point: str) -> None:
        """A stop point is active: he stops the machine, or shuts the nitrogen, if what he sees agrees."""
        visit = self._visit
        if stop_point == CYLINDER_CALL and visit.recovering is not None:
            self._called = self._called or _share(visit.recovering.connected) > BELIEVES_FROM
        elif stop_point == PRESSURE_CALL and visit.dry is not None:
            visit.dry.filling = False

    def work(self) -> Iterator[Wait | Charge]:
        """Everything from opening to closing the job. A `Charge` is handed to the charging bay."""
        visit = self._visit
        visit.open_job()
        yield 3.0
        for step in visit.scenario.steps:
            if isinstance(step, Charge):
                visit.seal()
                yield step
            elif isinstance(step, Skip):
                visit.act("step.skip", step=step.step, reason=step.reason)
                yield self._about(4.0)
            else:
                yield from self._step(step)
        visit.act("job.close")
        yield 2.0

    def _step(self, step: Recover | Repair | NitrogenTest | Evacuate | Hold) -> Iterator[Wait]:
        if isinstance(step, Recover):
            yield from self._recover(step)
        elif isinstance(step, Repair):
            yield from self._repair(step)
        elif isinstance(step, NitrogenTest):
            yield from self._test(step)
        elif isinstance(step, Evacuate):
            yield from self._evacuate(step)
        else:
            yield from self._hold(step)

    def _about(self, seconds: float) -> float:
        return seconds * self._rng.uniform(0.85, 1.25)

    def _begin(self, name: str, **fields: object) -> None:
        self._visit.act("step.begin", step=name, **fields)
        self._visit.truth.mark(f"{name}-begun", self._visit.time_s)

    def _valves(self, *names: str, opened: bool) -> Iterator[Wait]:
        for name in names:
            self._visit.act("valve", valve=name, open=opened)
            yield self._about(2.0)

    def _recover(self, step: Recover) -> Iterator[Wait]:
        visit = self._visit
        plant = visit.connect_machine(step)
        self._begin("recovery")
        yield self._about(3.0)
        yield from self._mount(plant, 0)
        yield from self._valves("low", "high", "container", opened=True)
        for pull in range(step.most_pulls):
            yield from self._pull_down(plant, step)
            visit.truth.mark(f"pulled-down-{pull + 1}", visit.time_s)
            if self._full(plant):
                visit.act("note", text="The cylinder is full.")
                break
            yield step.waits_s
            visit.note_rest(plant.pressure_pa)
            if plant.pressure_pa <= step.again_from_pa:
                break
        yield from self._disconnect(plant)

    def _pull_down(self, plant: RecoveryPlant, step: Recover) -> Iterator[Wait]:
        """Run the machine until the pressure is down, changing cylinders that are full."""
        begun_s = self._visit.time_s
        plant.running = True

        def stops() -> bool:
            late = self._visit.time_s - begun_s > LONGEST_PULL_S
            return late or plant.pressure_pa <= step.down_to_pa or self._full(plant)

        yield stops
        while self._full(plant) and plant.connected is not plant.cylinders[-1]:
            yield from self._change(plant, plant.cylinders.index(plant.connected) + 1)
            yield stops
        plant.running = False

    def _disconnect(self, plant: RecoveryPlant) -> Iterator[Wait]:
        visit = self._visit
        yield from self._valves("low", "high", opened=False)
        yield from self._clear(plant)
        yield from self._valves("container", opened=False)
        visit.finish_recovery()
        visit.act("step.end")
        yield self._about(3.0)
        visit.act("container.unmount")
        yield 1.0
        visit.weigh(None)
        removed = visit.scenario.condition.oil_removed_m3
        if removed > 0.0:
            visit.act("oil", removed=f"{removed * 1e6:g} mL")
            yield self._about(3.0)

    def _mount(self, plant: RecoveryPlant, number: int) -> Iterator[Wait]:
        plant.connected = plant.cylinders[number]
        data = plant.connected.data
        self._visit.weigh(plant.connected)
        self._called = False
        yield self._about(2.0)
        self._visit.act(
            "container.mount", container=data.id, use="recovery", tare=f"{data.tare_kg:g} kg",
            water_capacity=f"{data.water_capacity_m3 * 1e3:g} L",
        )  # fmt: skip
        yield self._about(9.0)

    def _clear(self, plant: RecoveryPlant) -> Iterator[Wait]:
        """Let the machine press what it holds into the cylinder."""
        plant.clearing = True
        yield CLEARING_S
        plant.clearing = False

    def _change(self, plant: RecoveryPlant, number: int) -> Iterator[Wait]:
        plant.running = False
        yield 1.0
        yield from self._clear(plant)
        yield from self._valves("container", opened=False)
        self._visit.act("container.unmount")
        yield 1.0
        self._visit.weigh(None)
        yield self._about(8.0)
        yield from self._mount(plant, number)
        yield from self._valves("container", opened=True)
        plant.running = True

    def _full(self, plant: RecoveryPlant) -> bool:
        """Somebody called, or he sees himself that the cylinder is as full as it may be."""
        return self._called or _share(plant.connected) >= SEES_FROM

    def _repair(self, step: Repair) -> Iterator[Wait]:
        visit = self._visit
        visit.open_circuit()
        plant = visit.dry_plant()
        plant.open = True
        yield step.lasts_s
        plant.open = False
        for part, oil_m3 in step.parts:
            visit.act("component.replaced", component=part, oil=f"{oil_m3 * 1e6:g} mL")
            yield self._about(3.0)
            visit.act("oil", added=f"{oil_m3 * 1e6:g} mL", component=part)
            yield self._about(3.0)

    def _test(self, step: NitrogenTest) -> Iterator[Wait]:
        visit = self._visit
        plant = visit.dry_plant()
        self._begin("pressure_test")
        yield self._about(4.0)
        yield from self._valves("high", opened=True)
        plant.fill_to(step.fill_pa)
        begun_s = visit.time_s
        yield lambda: not plant.filling or visit.time_s - begun_s >= FILLING_S
        plant.filling = False
        yield from self._valves("high", opened=False)
        plant.begin(step.drift)
        visit.begin_standing("pressure_test")
        yield step.lasts_s
        visit.end_standing("pressure_test")
        visit.act("step.end")
        yield self._about(4.0)
        yield from self._valves("high", opened=True)
        plant.venting = True
        yield VENTING_S
        plant.venting = False
        yield from self._valves("high", opened=False)

    def _evacuate(self, step: Evacuate) -> Iterator[Wait]:
        visit = self._visit
        plant = visit.dry_plant()
        self._begin("evacuation", target_abs=f"{step.target_pa:g} Pa")
        visit.gauge_on = True
        yield self._about(3.0)
        yield from self._valves("low", "high", opened=True)
        visit.act("pump", running=True)
        yield self._about(4.0)
        plant.begin(step.drift)
        plant.pumping = True
        visit.act("valve", valve="vacuum", open=True)
        yield max(0.0, step.lasts_s - LAST_MINUTE_S)
        visit.last_minute()
        yield LAST_MINUTE_S
        visit.end_evacuation(step)
        visit.act("step.end")
        yield 1.0

    def _hold(self, step: Hold) -> Iterator[Wait]:
        visit = self._visit
        plant = visit.dry_plant()
        self._begin("vacuum_hold")
        yield self._about(2.0)
        plant.pumping = False
        plant.begin(step.drift)
        visit.begin_standing("vacuum_hold")
        visit.act("valve", valve="vacuum", open=False)
        yield self._about(6.0)
        visit.act("pump", running=False)
        yield step.lasts_s
        visit.end_standing("vacuum_hold")
        yield from self._valves("low", "high", opened=False)
        visit.act("step.end")
        yield self._about(4.0)


def _share(cylinder: CylinderModel) -> float:
    return cylinder.vessel.mass_kg / cylinder.most_kg
