"""Physics of container, hose, circuit, scale and probes, to stand in for a bay.

The simulator knows the true mass everywhere at every instant. It shares no equation with the service: it takes its
properties from CoolProp directly and uses only the service's wire format.
"""

from fillmark_sim.bay import Bay
from fillmark_sim.radio import Pack
from fillmark_sim.scenario import Scenario
from fillmark_sim.stream import write_demos, write_stream
from fillmark_sim.truth import Truth
from fillmark_sim.visit import Visit
from fillmark_sim.visit_scenario import VisitScenario

__all__ = ["Bay", "Pack", "Scenario", "Truth", "Visit", "VisitScenario", "write_demos", "write_stream"]
