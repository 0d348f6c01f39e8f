"""The vehicle's circuit: a low and a high side, a compressor between them, an expansion valve back.

Both sides are vessels with their metal. With the engine off nothing drives them apart, so they settle at one
pressure at the temperature of the surroundings. With the engine running the pressures follow from what the
compressor can draw, what condenser and evaporator pass, and how much refrigerant there is.
"""

from __future__ import annotations

import math

from fillmark_sim.flow import flashing_flux, nozzle_flux, omega
from fillmark_sim.fluid import ICE_POINT_K, Fluid
from fillmark_sim.scenario import Circuit
from fillmark_sim.vessel import Vessel

EVACUATED_PA = 60.0
STILL_AIR = 0.15
CLEARANCE = 0.05
ISENTROPIC_EFFICIENCY = 0.65
AIR_SIDE_RATIO = 1.2
RECEIVER_SHARE = 0.35
NORMAL_EVAPORATOR_SHARE = 0.12
LIQUID_SEAL_KG = 0.03


class CircuitModel:
    """State of the circuit. Temperatures of ambient and cabin in °C."""

    def __init__(self, data: Circuit, fluid: Fluid, ambient_c: float, cabin_c: float) -> None:
        self.data = data
        self.fluid = fluid
        self.ambient_k = ambient_c + ICE_POINT_K
        self.cabin_k = cabin_c + ICE_POINT_K
        half = data.volume_m3 / 2.0
        rest = EVACUATED_PA / (fluid.gas_constant * self.ambient_k) * half
        each = max(data.initial_kg / 2.0, rest)
        self.low = Vessel(fluid, half, data.metal_j_per_k, each, self.ambient_k)
        self.high = Vessel(fluid, half, data.metal_j_per_k, each, self.ambient_k)
        self.running = False
        self.stalled = False
        self.clutch = False
        self.low_switch = self.low.pressure_pa > data.cutin_low_pa
        self.high_switch = True
        self.vent_k = self.cabin_k
        self._expansion = 0.75 * math.pi / 4.0 * data.expansion_m**2
        self._wet_kg = NORMAL_EVAPORATOR_SHARE * data.charge_max_kg

    @property
    def mass_kg(self) -> float:
        """Refrigerant in the circuit now."""
        return self.low.mass_kg + self.high.mass_kg

    @property
    def wetness(self) -> float:
        """How well the evaporator is supplied: 0 dry, 1 as designed."""
        return min(1.5, self.low.liquid_kg / self._wet_kg)

    @property
    def suction_k(self) -> float:
        """Temperature of the suction line."""
        superheat = 0.5 * max(self.cabin_k - self.low.temperature_k, 0.0) * max(0.1, 1.0 - self.wetness)
        return self.low.temperature_k + superheat

    @property
    def liquid_k(self) -> float:
        """Temperature of the liquid line."""
        filling = min(1.0, self.high.liquid_kg / (2.0 * LIQUID_SEAL_KG))
        return self.high.temperature_k - 0.35 * filling * (self.high.temperature_k - self.ambient_k)

    def step(self, dt_s: float) -> None:
        """Advance by one step (s)."""
        self._switch()
        if self.clutch:
            self._compress(dt_s)
        self._expand(dt_s)
        fan = 1.0 if self.running else STILL_AIR
        wet = 0.15 + 0.85 * min(1.0, self.wetness)
        cooling = fan * wet * self.data.ua_evaporator * (self.cabin_k - self.low.temperature_k)
        self.low.heat(dt_s * cooling)
        flooded = self.high.liquid_kg / self.high.sat.rho_l / self.high.volume_m3
        free = 1.0 - 0.8 * max(0.0, flooded - RECEIVER_SHARE) / (1.0 - RECEIVER_SHARE)
        rejected = fan * free * self.data.ua_condenser * (self.high.temperature_k - self.ambient_k)
        self.high.heat(-dt_s * rejected)
        blown = self.cabin_k - (cooling / (AIR_SIDE_RATIO * self.data.ua_evaporator) if self.running else 0.0)
        self.vent_k += (blown - self.vent_k) * min(1.0, dt_s / 6.0)
        self.low.settle()
        self.high.settle()

    def _switch(self) -> None:
        data, low, high = self.data, self.low.pressure_pa, self.high.pressure_pa
        self.low_switch = low > (data.cutout_low_pa if self.low_switch else data.cutin_low_pa)
        self.high_switch = high < (data.cutout_high_pa if self.high_switch else data.cutin_high_pa)
        self.clutch = self.running and not self.stalled and self.low_switch and self.high_switch

    def _compress(self, dt_s: float) -> None:
        low, high = self.low, self.high
        gamma = self.fluid.gamma
        ratio = max(1.0, high.pressure_pa / low.pressure_pa)
        filling = max(0.0, 0.85 - CLEARANCE * (ratio ** (1.0 / gamma) - 1.0))
        warm = low.temperature_k / self.suction_k
        flow = filling * self.data.displacement_m3 * self.data.speed_rps * low.vapour_rho * warm
        moved = min(dt_s * flow, 0.3 * low.mass_kg)
        power = (gamma - 1.0) / gamma
        work = low.pressure_pa / max(low.vapour_rho, 1e-3) / power * (ratio**power - 1.0)
        h = low.h_v
        low.exchange(-moved, h)
        high.exchange(moved, h + work / ISENTROPIC_EFFICIENCY)

    def _expand(self, dt_s: float) -> None:
        if self.high.pressure_pa >= self.low.pressure_pa:
            up, down = self.high, self.low
            opening = min(1.0, max(0.03, 1.3 - self.wetness)) if self.clutch else 1.0
            quality = 1.0 - min(1.0, up.liquid_kg / LIQUID_SEAL_KG)
        else:
            up, down, opening, quality = self.low, self.high, 1.0, 1.0
        if quality >= 1.0:
            flux = nozzle_flux(up.pressure_pa, up.vapour_rho, self.fluid.gamma, down.pressure_pa)
            h = up.h_v
        else:
            rho = 1.0 / (quality / up.sat.rho_v + (1.0 - quality) / up.sat.rho_l)
            compressibility = omega(up.sat, self.fluid.c_l, quality)
            flux = flashing_flux(up.pressure_pa, rho, compressibility, down.pressure_pa)
            h = quality * up.sat.h_v + (1.0 - quality) * up.sat.h_l
        moved = min(dt_s * opening * self._expansion * flux, 0.2 * up.mass_kg)
        up.exchange(-moved, h)
        down.exchange(moved, h)
