"""The close call: the moment at which saying "close the valve now" lands the charge on the aim.

    lands = charged + flow · (age + way + reaction time) + after-run

* charged: as of the last indication, with the scale's lag reckoned in.
* age: the last indication is that old, and refrigerant has flowed on since. Clocks that are apart are reckoned in, as
  far as that can be known (`delay`). The call comes when it is due, not with the next indication: the service wakes.
* way: from the service to the display that shows the call.
* reaction time: from the call until the valve is shut. One that was learnt (`closings`) has the way in it.
* after-run: what still runs out of the hose when only the container's valve can be closed. Closing the valve at the
  circuit leaves the hose's content behind it, and the after-run is nil.
"""

from __future__ import annotations

from dataclasses import dataclass

LEAST_FLOW_KG_S = 0.1e-3
"""Below this nothing flows that a person could stop in time or late."""


@dataclass(frozen=True, slots=True)
class Landing:
    """Where the charge lands.

    Attributes:
        flow_kg_s: flow into the circuit.
        if_called_kg: charged mass when the call is made now and obeyed after the reaction time.
        if_shut_kg: charged mass when the valve is shut at this instant.
        call_in_s: seconds from now until the call is due; None while nothing flows.
        aim_in_s: seconds until the aim is reached at the present flow; None while nothing flows.
    """

    flow_kg_s: float
    if_called_kg: float
    if_shut_kg: float
    call_in_s: float | None
    aim_in_s: float | None


def landing(
    *,
    shown_kg: float,
    flow_kg_s: float,
    age_s: float,
    reaction_s: float,
    after_run_kg: float,
    aim_kg: float,
) -> Landing:
    """Predict the landing.

    Args:
        shown_kg: charged mass as of the last indication, kg.
        flow_kg_s: flow into the circuit, kg/s.
        age_s: age of the last indication, s.
        reaction_s: way of the call and reaction time, s.
        after_run_kg: mass that still runs in once the valve is shut, kg.
        aim_kg: aim, kg.
    """
    inside = shown_kg + flow_kg_s * age_s
    if_shut = inside + after_run_kg
    if_called = if_shut + flow_kg_s * reaction_s
    if flow_kg_s < LEAST_FLOW_KG_S:
        return Landing(flow_kg_s, if_called, if_shut, None, None)
    return Landing(flow_kg_s, if_called, if_shut, (aim_kg - if_called) / flow_kg_s, (aim_kg - inside) / flow_kg_s)
