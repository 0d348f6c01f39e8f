"""The simulated bay of a scenario, whichever kind it is."""

from __future__ import annotations

from fillmark_sim.bay import START_S, Bay
from fillmark_sim.scenario import Scenario
from fillmark_sim.visit import Visit
from fillmark_sim.visit_scenario import VisitScenario


def build(scenario: Scenario, seed: int, start_s: float = START_S, bay: str = "bay-1") -> Bay | Visit:
    """A bay for a charge, a visit for several steps. Arguments as in `Bay`."""
    if isinstance(scenario, VisitScenario):
        return Visit(scenario, seed, start_s, bay)
    return Bay(scenario, seed, start_s, bay)
