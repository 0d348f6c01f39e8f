"""Recovery: a machine draws vapour out of the circuit and presses it, condensed, into a cylinder on the scale.

The circuit is one vessel with its metal, and oil that holds refrigerant. Boiling off cools it; when the machine stops,
metal and air warm it and the oil gives off more, so the pressure rises again. The machine holds what flows for a few
seconds and is cleared into the cylinder at the end. Mass: circuit + oil + machine + cylinders is constant.
"""

from __future__ import annotations

import math

from fillmark_sim.flow import nozzle_flux
from fillmark_sim.fluid import Fluid
from fillmark_sim.vacuum.oil import Dissolved
from fillmark_sim.vessel import Vessel
from fillmark_sim.visit_scenario import Condition, Cylinder

MACHINE_HOLDS_S = 8.0
MACHINE_CLEARS_S = 2.5
MACHINE_CLEARANCE = 0.012
CONDENSES_ABOVE_AIR_K = 10.0
STILL_UA_W_PER_K = 14.0
CYLINDER_UA_W_PER_K = 6.0
CYLINDER_J_PER_KGK = 490.0
PORT_M2 = 1.3e-6
FULL_AT_K = 328.15
"""55 °C: a cylinder must not be full of liquid up to there (49 CFR 173.304)."""


def split_with_oil(fluid: Fluid, mass_kg: float, volume_m3: float, kg_per_pa: float, temperature_k: float) -> float:
    """How much of a charge (kg) the oil holds in equilibrium, by bisection."""
    least, most = 0.0, mass_kg
    for _ in range(50):
        middle = 0.5 * (least + most)
        pressure = Vessel(fluid, volume_m3, 1.0, mass_kg - middle, temperature_k).pressure_pa
        least, most = (middle, most) if pressure * kg_per_pa > middle else (least, middle)
    return least


class CylinderModel:
    """A recovery cylinder in the air."""

    def __init__(self, data: Cylinder, fluid: Fluid, ambient_k: float) -> None:
        self.data = data
        wall = data.tare_kg * CYLINDER_J_PER_KGK
        self.vessel = Vessel(fluid, data.water_capacity_m3, wall, data.content_kg, ambient_k)
        self.most_kg = data.water_capacity_m3 * fluid.saturation(FULL_AT_K).rho_l

    @property
    def gross_kg(self) -> float:
        """What it weighs."""
        return self.data.tare_kg + self.vessel.mass_kg


class RecoveryPlant:
    """Circuit, machine and cylinders.

    Args:
        fluid: refrigerant.
        volume_m3, metal_j_per_k: of the circuit.
        charge_kg: in circuit and oil together.
        condition: oil and its solubility.
        ambient_k: of the air.
        speed_m3_s: displacement of the machine.
        cylinders: to fill.
    """

    dt_s = 0.25

    def __init__(
        self, fluid: Fluid, *, volume_m3: float, metal_j_per_k: float, charge_kg: float, condition: Condition,
        ambient_k: float, speed_m3_s: float, cylinders: tuple[Cylinder, ...],
    ) -> None:  # fmt: skip
        self._fluid = fluid
        self._ambient_k = ambient_k
        self._speed = speed_m3_s
        per_pa = condition.oil_kg * condition.soluble_per_pa
        dissolved = split_with_oil(fluid, charge_kg, volume_m3, per_pa, ambient_k)
        self.oil = Dissolved(dissolved, tau_s=condition.oil_tau_s, kg_per_pa=per_pa)
        self.circuit = Vessel(fluid, volume_m3, metal_j_per_k, charge_kg - dissolved, ambient_k)
        self.cylinders = tuple(CylinderModel(one, fluid, ambient_k) for one in cylinders)
        self.connected = self.cylinders[0]
        self.machine_kg = 0.0
        self.running = self.clearing = False
        self.drawn_kg = 0.0

    @property
    def pressure_pa(self) -> float:
        """Pressure in the circuit."""
        return self.circuit.pressure_pa

    @property
    def in_circuit_kg(self) -> float:
        """Refrigerant in the circuit, that in the oil included."""
        return self.circuit.mass_kg + self.oil.mass_kg

    def step(self, dt_s: float) -> None:
        """Advance by one step."""
        circuit = self.circuit
        circuit.exchange(self.oil.give(dt_s, circuit.pressure_pa), circuit.sat.h_v)
        if self.running:
            drawn = dt_s * self._flow_kg_s()
            circuit.exchange(-drawn, circuit.h_v)
            self.machine_kg += drawn
            self.drawn_kg += drawn
            self._press(self.machine_kg * -math.expm1(-dt_s / MACHINE_HOLDS_S))
        elif self.clearing:
            self._press(self.machine_kg * -math.expm1(-dt_s / MACHINE_CLEARS_S))
        circuit.heat(dt_s * STILL_UA_W_PER_K * (self._ambient_k - circuit.temperature_k))
        circuit.settle()
        for one in self.cylinders:
            one.vessel.heat(dt_s * CYLINDER_UA_W_PER_K * (self._ambient_k - one.vessel.temperature_k))
            one.vessel.settle()

    def _press(self, mass_kg: float) -> None:
        liquid = self._fluid.saturation(self._ambient_k + CONDENSES_ABOVE_AIR_K)
        self.machine_kg -= mass_kg
        self.connected.vessel.exchange(mass_kg, liquid.h_l)

    def _flow_kg_s(self) -> float:
        circuit, gamma = self.circuit, self._fluid.gamma
        ratio = self.connected.vessel.pressure_pa / max(circuit.pressure_pa, 1.0)
        filling = max(0.0, 0.9 - MACHINE_CLEARANCE * (max(1.0, ratio) ** (1.0 / gamma) - 1.0))
        port = PORT_M2 * nozzle_flux(circuit.pressure_pa, circuit.vapour_rho, gamma, 0.0)
        wanted = filling * self._speed * circuit.vapour_rho
        return wanted * port / (wanted + port) if wanted > 0.0 else 0.0
