"""Charging inside a visit: the bay, without opening and closing the job, and a performance test behind it."""

from __future__ import annotations

import random
from collections.abc import Iterator

from fillmark_sim.bay import Bay
from fillmark_sim.scenario import Scenario
from fillmark_sim.technician import Technician, Wait


class _StayingTechnician(Technician):
    """After the charge he lets the circuit run and reads the probes."""

    def __init__(self, bay: Bay, rng: random.Random, performs_s: float) -> None:
        self._performs_s = performs_s
        super().__init__(bay, rng)

    def _work(self) -> Iterator[Wait]:
        yield from super()._work()
        if self._performs_s <= 0.0:
            return
        bay = self._bay
        bay.act("step.begin", step="performance_test")
        bay.truth.mark("performance-begun", bay.time_s)
        if not bay.circuit.running:
            bay.start_engine(running=True)
        yield self._performs_s
        bay.start_engine(running=False)
        yield 2.0
        bay.act("step.end")
        yield 2.0


class ChargingStage(Bay):
    """A charge that is one step of a visit."""

    def __init__(self, scenario: Scenario, seed: int, start_s: float, bay: str, performs_s: float) -> None:
        super().__init__(scenario, seed, start_s, bay)
        self._technician = _StayingTechnician(self, self._rng("technician"), performs_s)

    def open_job(self) -> None:
        """The visit has opened it."""

    def act(self, type_: str, **fields: object) -> None:
        """Enter an action; the visit closes the job."""
        if type_ != "job.close":
            super().act(type_, **fields)
