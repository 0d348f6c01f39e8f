"""What is dissolved in the oil: refrigerant or water, and how slowly it comes out.

Diffusion out of a layer, one side open: the content is a sum of modes with shares 8 / (π²(2n+1)²) and time constants
τ / (2n+1)² (Crank, The Mathematics of Diffusion, 2nd ed., section 4.3, from memory). Early the rate falls with t^-1/2,
late exponentially. The content strives to `per_pa · p` (Henry).
"""

from __future__ import annotations

import math

MODES = 6
_WEIGHTS = tuple(8.0 / (math.pi**2 * (2 * n + 1) ** 2) for n in range(MODES))
SHARES = tuple(one / sum(_WEIGHTS) for one in _WEIGHTS)


class Dissolved:
    """One substance in the oil.

    Args:
        mass_kg: dissolved at the start, evenly.
        tau_s: slowest time constant (layer thickness squared · 4 / (π² diffusivity)).
        kg_per_pa: what the oil holds in equilibrium for each pascal of its vapour.
    """

    def __init__(self, mass_kg: float, *, tau_s: float, kg_per_pa: float) -> None:
        self._modes = [share * mass_kg for share in SHARES]
        self._taus = tuple(tau_s / (2 * n + 1) ** 2 for n in range(MODES))
        self._per_pa = kg_per_pa

    @property
    def mass_kg(self) -> float:
        """Still dissolved."""
        return sum(self._modes)

    def offer(self, dt_s: float) -> tuple[float, float]:
        """Mass given off in a step is `first - second * p` (kg), p (Pa) being the vapour's pressure at its end."""
        free = per_pa = 0.0
        for mass, tau, share in zip(self._modes, self._taus, SHARES, strict=True):
            part = dt_s / (tau + dt_s)
            free += part * mass
            per_pa += part * share
        return free, per_pa * self._per_pa

    def give(self, dt_s: float, pressure_pa: float) -> float:
        """Let the step happen against this pressure of its vapour. Returns the mass (kg) given off."""
        held = self._per_pa * pressure_pa
        given = 0.0
        for n, (tau, share) in enumerate(zip(self._taus, SHARES, strict=True)):
            part = dt_s / (tau + dt_s) * (self._modes[n] - share * held)
            self._modes[n] -= part
            given += part
        return given
