"""A can or cylinder on the pan: refrigerant and metal at one temperature, in air or in a bath of warm water."""

from __future__ import annotations

from fillmark_sim.fluid import ICE_POINT_K, Fluid
from fillmark_sim.scenario import Container
from fillmark_sim.vessel import Vessel

WATER_J_PER_KGK = 4186.0
BATH_UA_AIR = 2.0
HAND_W_PER_K = 1.5
HAND_K = 305.0
"""A palm and fingers on a can, and their skin. A judgement."""


class ContainerModel:
    """State of one container."""

    def __init__(self, data: Container, fluid: Fluid, ambient_k: float) -> None:
        self.data = data
        self._ambient_k = ambient_k
        wall = data.metal_kg * data.metal_j_per_kgk
        self.vessel = Vessel(fluid, data.volume_m3, wall, data.net_kg, data.temperature_c + ICE_POINT_K)
        self._bath_k: float | None = None
        self.held = False
        if data.bath_c is not None:
            self.stand_in_water(data.bath_c)

    @property
    def in_water(self) -> bool:
        """Whether it stands in a bath."""
        return self._bath_k is not None

    @property
    def drawn(self) -> bool:
        """Whether it has given anything yet."""
        return self.vessel.mass_kg < self.data.net_kg

    @property
    def gross_kg(self) -> float:
        """Refrigerant, metal and water together."""
        bath = self.data.bath_kg if self.in_water else 0.0
        return self.vessel.mass_kg + self.data.metal_kg + bath

    def stand_in_water(self, bath_c: float) -> None:
        """Put it in a bath of this temperature (°C)."""
        self._bath_k = bath_c + ICE_POINT_K

    def step(self, dt_s: float) -> None:
        """Exchange heat for one step (s) and settle."""
        vessel, data = self.vessel, self.data
        heat = data.ua_air_w_per_k * (self._ambient_k - vessel.temperature_k)
        if self._bath_k is not None:
            from_bath = data.ua_bath_w_per_k * (self._bath_k - vessel.temperature_k)
            to_air = BATH_UA_AIR * (self._bath_k - self._ambient_k)
            self._bath_k -= dt_s * (from_bath + to_air) / (data.bath_kg * WATER_J_PER_KGK)
            heat += from_bath
        if self.held:
            heat += HAND_W_PER_K * (HAND_K - vessel.temperature_k)
        vessel.heat(dt_s * heat)
        vessel.settle()
