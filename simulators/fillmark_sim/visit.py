"""A visit of several steps in one bay: recovery, nitrogen, evacuation, hold, charging, performance, on one clock.

It has the same outside as `Bay`: `packs()`, `hear()`, `truth`. While it charges, the bay of the charging simulation
does the work, and what it is told is handed on.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from dataclasses import replace

from fillmark.wire.senml import Record
from fillmark_sim.bay import ACTION_DELAY_S, AFTER_THE_END_S, START_S
from fillmark_sim.charging_stage import ChargingStage
from fillmark_sim.dry_plant import DryPlant
from fillmark_sim.radio import Pack, RadioModel
from fillmark_sim.technician import Wait
from fillmark_sim.visit_bench import VisitBench
from fillmark_sim.visit_devices import VisitDevices
from fillmark_sim.visit_hands import Hands
from fillmark_sim.visit_scenario import Charge, VisitScenario

BETWEEN_S = 2.0


class Visit(VisitBench):
    """One simulated visit.

    Args:
        scenario: what happens.
        seed: decides all scatter. The same scenario and seed give the same packs.
        start_s: Unix seconds of the beginning.
        bay: first part of the channels' names.
    """

    def __init__(self, scenario: VisitScenario, seed: int, start_s: float = START_S, bay: str = "bay-1") -> None:
        super().__init__(scenario, seed, start_s, bay)
        self._charging: ChargingStage | None = None
        self._radio = RadioModel(scenario.radio, self.rng("radio"))
        self._devices = VisitDevices(self)
        self._hands = Hands(self, self.rng("hands"))

    def hear(self, stop_point_id: str) -> None:
        """A stop point is active on the display that the technician looks at."""
        if self._charging is not None:
            self._charging.hear(stop_point_id)
        else:
            self._hands.hear(stop_point_id)

    def packs(self) -> Iterator[Pack]:
        """Everything that arrives, in order of arrival. Simulates as it goes; the end of the job is the end."""
        for wait in self._hands.work():
            if isinstance(wait, Charge):
                yield from self._until(BETWEEN_S)
                yield from self._charge(wait)
            else:
                yield from self._until(wait)
        yield from self._until(AFTER_THE_END_S)
        yield from self._radio.arrived(math.inf)

    def _until(self, wait: Wait) -> Iterator[Pack]:
        ends_s = math.inf if callable(wait) else self.time_s + wait
        while not (wait() if callable(wait) else self.time_s >= ends_s - 1e-9):
            self._tell()
            plant = self.recovering or self.dry
            dt_s = DryPlant.dt_s if plant is None else plant.dt_s
            self._devices.read(self._radio)
            if plant is not None:
                plant.step(dt_s)
            self._devices.follow(dt_s)
            self.time_s += dt_s
            yield from self._radio.arrived(self.time_s)

    def _charge(self, step: Charge) -> Iterator[Pack]:
        self._tell()
        yield from self._radio.arrived(math.inf)
        whole = self.scenario
        empty = replace(whole, circuit=replace(whole.circuit, initial_kg=0.0))
        stage = ChargingStage(empty, self.seed, self.time_s, self.name, step.performs_s)
        self._charging = stage
        for pack in stage.packs():
            self.truth.absorb(stage.truth)
            yield pack
        self.truth.absorb(stage.truth)
        self._charging = None
        self.time_s = math.ceil(stage.time_s) + BETWEEN_S

    def _tell(self) -> None:
        for time_s, action in self.actions:
            record = Record(f"{self.name}/action", round(time_s, 3), text=json.dumps(action, separators=(",", ":")))
            self._radio.send(time_s + ACTION_DELAY_S, (record,))
        self.actions.clear()
