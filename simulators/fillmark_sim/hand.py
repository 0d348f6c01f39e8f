"""How a technician without a scale judges what is in: he counts empty cans and watches the gauges.

* Every can that he has emptied counts with what its label says. The vapour that stays in it, and what a hose loses when
  it is unscrewed, he does not know.
* What has left the can in hand he judges by its heft and its frost line, to HEFT_SHARE_U of a full can.
* With the engine running he stops early when the high side has stood for a while at what he holds for usual: the
  saturation pressure of air that is USUAL_OVER_AIR_K warmer than it is, give or take USUAL_U_K from car to car.

All three are common practice, no source; the numbers are judgements.
"""

from __future__ import annotations

import random
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from fillmark_sim.bay import Bay

HEFT_SHARE_U = 0.10
USUAL_OVER_AIR_K = 22.0
USUAL_U_K = 5.0
STANDS_FOR_S = 10.0
AT_LEAST_SHARE = 0.8
"""He trusts his count more than the gauge: no gauge stops him before he believes that so much of the aim is in."""


class HandJudgement:
    """What one such technician believes during one charge."""

    def __init__(self, bay: Bay, rng: random.Random) -> None:
        self._bay = bay
        self._heft = [rng.gauss(0.0, HEFT_SHARE_U) for _ in bay.scenario.containers]
        self._usual_k = bay.scenario.ambient_c + 273.15 + rng.gauss(USUAL_OVER_AIR_K, USUAL_U_K)
        self._usual_since_s: float | None = None

    def believed_kg(self) -> float:
        """What he believes to have put in."""
        bay = self._bay
        if bay.mounted is None:
            return 0.0
        emptied = sum(one.net_kg for one in bay.scenario.containers[: bay.mounted])
        net_kg = bay.scenario.containers[bay.mounted].net_kg
        felt = bay.truth.containers[bay.mounted].drawn_kg + self._heft[bay.mounted] * net_kg
        return emptied + min(max(felt, 0.0), net_kg)

    def enough(self) -> bool:
        """Whether he would close now."""
        believed, aim = self.believed_kg(), self._bay.scenario.target_kg
        return believed >= aim or (self._gauge_is_usual() and believed >= AT_LEAST_SHARE * aim)

    def _gauge_is_usual(self) -> bool:
        circuit, now = self._bay.circuit, self._bay.time_s
        usual_pa = circuit.fluid.saturation(self._usual_k).pressure_pa
        if not circuit.clutch or circuit.high.pressure_pa < usual_pa:
            self._usual_since_s = None
            return False
        if self._usual_since_s is None:
            self._usual_since_s = now
        return now - self._usual_since_s >= STANDS_FOR_S
