"""A container that was never opened: hands move it in jumps and drift is slow; what falls far without a jump has left.

Some people record no valve. Then the fall itself says that refrigerant leaves, and from which mass on.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

LEAVING_KG = 8e-3
LEAVING_STEPS = 8.0
SETTLES_S = 2.0
FORGETS_KG_S = 0.01e-3


@dataclass(frozen=True, slots=True)
class Rest:
    """The mass at rest (kg) since `since_s`; `left_from_kg`: from where it began to fall like a flow, None before."""

    mass_kg: float = -math.inf
    since_s: float = math.inf
    left_from_kg: float | None = None

    def seen(self, time_s: float, mass_kg: float, before_s: float, resolution_kg: float) -> Rest:
        """The rest once a mass has been read, the one before at `before_s`."""
        if time_s - self.since_s <= SETTLES_S:
            return replace(self, mass_kg=mass_kg)
        rest = max(mass_kg, self.mass_kg - FORGETS_KG_S * (time_s - before_s))
        leaves = rest - mass_kg >= max(LEAVING_KG, LEAVING_STEPS * resolution_kg)
        return replace(self, mass_kg=rest, left_from_kg=rest if leaves else self.left_from_kg)


NO_REST = Rest()
