"""Mass and flow of what stands on the pan: a Kalman filter in two states.

State x = [m, f]: m gross mass (kg) as the scale will show it once it has settled on what it follows, f mass flow out of
the container (kg/s). The scale follows its load with a lag of the first order, so that in a steady flow

    load = m - f * lag                                                                                      (1)

While a path is open:

    m' = -f,    f' = w,    w white, of density q(f)**2 = (FLOW_WALK + FLOW_WALK_SHARE * |f|)**2              (2)

which over dt adds q²·[dt³/3, -dt²/2; -dt²/2, dt] to the covariance of [m, f] (white-noise acceleration; Bar-Shalom, Li
and Kirubarajan 2001, section 6.2, from memory). The walk is the compressor's pulse and the cooling of the container.

For RUSH_S after a valve was opened the density is a quarter of the fastest flow: an empty hose fills with anything up
to what its bore lets through, and stops at once when it is full.

Nothing flows back into a container whose pressure is above the circuit's, so a flow below nothing, which noise may
feign, moves no mass. Where the pressures say that it may, the least flow that can be is below nothing.

While every path is shut, f decays with the scale's lag, and by (1) the load stands still; m wanders with the zero's
drift, and for SETTLING_S after the valve was turned by the hand on the hose, unless the scale says "no motion".

Measurement: z = m + offset + v. v has the variance of the scale's step r, r²/12 (GUM F.2.2.1: rectangular), and of an
unrest of half a step in the last digit; of a container that stands shut the unrest is measured, see `stillness.py`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

FLOW_WALK_KG_S = 0.08e-3
FLOW_WALK_SHARE = 0.03
"""Density of the flow's walk, kg/s per √s: a part that is always there, and a share of the flow."""

RUSH_S = 5.0
"""So long does it take to fill a hose. Common practice, no source."""

DRIFT_KG_SQRT_S = 0.01e-3
SETTLING_KG_SQRT_S = 0.5e-3
SETTLING_S = 4.0
"""Walk of an indication at rest, kg per √s: the zero's, and that of a hose just handled, for so long."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """Mass (kg) and flow (kg/s) at `time_s`, with variances in kg², kg²/s and kg²/s²."""

    time_s: float
    mass_kg: float
    flow_kg_s: float
    var_mass: float
    cov: float = 0.0
    var_flow: float = 0.0

    def flowing(self, time_s: float, walk_kg_s: float = 0.0, least_kg_s: float = 0.0) -> Estimate:
        """Carried on to `time_s` while a path is open, by (2), with a density of `walk_kg_s` at least.

        `least_kg_s`: the least flow that can be.
        """
        dt = time_s - self.time_s
        density = max(FLOW_WALK_KG_S + FLOW_WALK_SHARE * abs(self.flow_kg_s), walk_kg_s)
        walk = density * density * dt
        return Estimate(
            time_s,
            self.mass_kg - max(self.flow_kg_s, least_kg_s) * dt,
            self.flow_kg_s,
            self.var_mass - 2.0 * dt * self.cov + dt * dt * self.var_flow + walk * dt * dt / 3.0,
            self.cov - dt * self.var_flow - walk * dt / 2.0,
            self.var_flow + walk,
        )

    def resting(self, time_s: float, lag_s: float, shut_s: float) -> Estimate:
        """Carried on to `time_s` while every path is shut, since `shut_s`."""
        dt = time_s - self.time_s
        left = math.exp(-dt / lag_s)
        settling = max(0.0, min(time_s, shut_s + SETTLING_S) - self.time_s)
        growth = DRIFT_KG_SQRT_S**2 * dt + SETTLING_KG_SQRT_S**2 * settling
        flow = self.flow_kg_s * left if left > 1e-9 else 0.0
        return Estimate(
            time_s, self.mass_kg - self.flow_kg_s * lag_s * (1.0 - left), flow, self.var_mass + growth, 0.0, 0.0
        )

    def corrected(self, innovation_kg: float, variance: float) -> Estimate:
        """Corrected by an indication that lies `innovation_kg` above; `variance` is the innovation's."""
        gain_mass = self.var_mass / variance
        gain_flow = self.cov / variance
        var_mass, cov = (1.0 - gain_mass) * self.var_mass, (1.0 - gain_mass) * self.cov
        # Rounding must not make the covariance one that cannot be.
        least = cov * cov / var_mass if var_mass > 0.0 else 0.0
        return Estimate(
            self.time_s,
            self.mass_kg + gain_mass * innovation_kg,
            self.flow_kg_s + gain_flow * innovation_kg,
            var_mass,
            cov,
            max(self.var_flow - gain_flow * self.cov, least),
        )
