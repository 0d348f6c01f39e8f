"""A circuit without refrigerant, as nitrogen test, evacuation and hold see it: gas, temperature, pump, nitrogen."""

from __future__ import annotations

import math

from fillmark_sim.fluid import ICE_POINT_K
from fillmark_sim.vacuum.circuit import Given, VacuumCircuit
from fillmark_sim.vacuum.oil import Dissolved
from fillmark_sim.vacuum.pump import Pump, PumpData
from fillmark_sim.vacuum.water import GAS_J_PER_MOLK, WetSpot, saturation_pa
from fillmark_sim.vacuum.weather import Weather
from fillmark_sim.visit_scenario import Condition, Drift

FILLS_IN_S = 15.0
VENTS_IN_S = 6.0
FILLING_WARMS_K = 4.0
COOLS_IN_S = 15.0
WATER_IN_OIL = 0.01


class DryPlant:
    """State between recovery and charging.

    Args:
        volume_m3: of the circuit.
        ambient_c: of the air.
        condition: leak, water, oil.
        oil: refrigerant left in the oil.
        kg_per_mol: molar mass of that refrigerant.
        pump: vacuum pump and hose.
        atmosphere_pa: outside.
    """

    dt_s = 0.5

    def __init__(
        self, *, volume_m3: float, ambient_c: float, condition: Condition, oil: Dissolved | None, kg_per_mol: float,
        pump: PumpData, atmosphere_pa: float,
    ) -> None:  # fmt: skip
        start_k = ambient_c + ICE_POINT_K
        self._colder_k = condition.cold_below_k
        spot = bound = None
        if condition.water_kg > 0.0:
            spot = WetSpot(
                condition.water_kg, start_k - self._colder_k, wall_j_per_k=condition.spot_wall_j_per_k,
                ua_w_per_k=condition.spot_ua_w_per_k, speed_m3_s=condition.spot_speed_m3_s,
            )  # fmt: skip
        if condition.bound_kg > 0.0:
            holds = condition.oil_kg * WATER_IN_OIL / saturation_pa(start_k)
            bound = Dissolved(condition.bound_kg, tau_s=condition.bound_tau_s, kg_per_pa=holds)
        self.circuit = VacuumCircuit(volume_m3, start_k, condition.leak_q, spot, bound, oil, kg_per_mol, atmosphere_pa)
        self.circuit.fill(air_pa=atmosphere_pa)
        self.pump = Pump(pump)
        self.pumping = self.filling = self.venting = self.open = False
        self._weather = Weather(start_k)
        self._since_s = 0.0
        self._warm_k = 0.0
        self._fill_pa = 0.0

    @property
    def pressure_pa(self) -> float:
        """Pressure in the circuit."""
        return self.circuit.pressure_pa

    @property
    def temperature_k(self) -> float:
        """Temperature of the metal, where the probe sits."""
        return self._weather.at(self._since_s)

    def begin(self, drift: Drift) -> None:
        """A step begins: the temperature wanders from here on, and what has come in is counted anew."""
        self._weather = Weather(self.temperature_k, drift.change_k, drift.shape, drift.lasts_s)
        self._since_s = 0.0
        self.circuit.given = Given()

    def fill_to(self, pressure_pa: float) -> None:
        """Let nitrogen in through the regulator until `filling` is set back."""
        self._fill_pa = pressure_pa
        self.filling = True

    def step(self, dt_s: float) -> None:
        """Advance by one step."""
        circuit = self.circuit
        self._since_s += dt_s
        self._warm_k *= math.exp(-dt_s / COOLS_IN_S)
        if self.filling:
            missing = self._fill_pa - circuit.pressure_pa
            step_pa = -missing * math.expm1(-dt_s / FILLS_IN_S)
            circuit.air_mol += step_pa * circuit.volume_m3 / (GAS_J_PER_MOLK * circuit.gas_k)
            self._warm_k += FILLING_WARMS_K * step_pa / self._fill_pa
        if self.venting:
            over = max(0.0, circuit.pressure_pa - circuit.atmosphere_pa) / circuit.pressure_pa
            left = 1.0 + over * math.expm1(-dt_s / VENTS_IN_S)
            circuit.air_mol *= left
            circuit.water_mol *= left
            circuit.refrigerant_mol *= left
        metal_k = self.temperature_k
        if self.open:
            self._air(dt_s)
            return
        circuit.step(dt_s, metal_k + self._warm_k, metal_k - self._colder_k, self.pump if self.pumping else None)

    def _air(self, dt_s: float) -> None:
        """The circuit is open: air in it, and what the oil gives off drifts away. Water that came in stays."""
        self.circuit.fill(air_pa=self.circuit.atmosphere_pa)
        if self.circuit.refrigerant_oil is not None:
            self.circuit.refrigerant_oil.give(dt_s, 0.0)
