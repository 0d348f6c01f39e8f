"""A rigid volume with refrigerant in it and a wall around it: container, hose and both sides of a circuit.

Mass and energy are the state. Temperature follows from them, pressure from temperature and density:

* density below saturated vapour: gas, by the equation of state;
* between the two phases: saturation pressure;
* above saturated liquid: saturation pressure plus the stiffness of the full vessel.

Refrigerant and wall share one temperature.
"""

from __future__ import annotations

from fillmark_sim.fluid import Fluid

FULL_STIFFNESS_PA = 2.0e7


class Vessel:
    """State of one volume.

    Args:
        fluid: what is in it.
        volume_m3: inner volume.
        wall_j_per_k: heat capacity of the wall that follows the refrigerant.
        mass_kg: content at the start.
        temperature_k: of content and wall at the start.
    """

    __slots__ = (
        "_energy_j", "enthalpy_mix", "fluid", "liquid_kg", "mass_kg", "pressure_pa", "rho",
        "sat", "temperature_k", "vapour_rho", "volume_m3", "wall_j_per_k",
    )  # fmt: skip

    def __init__(
        self, fluid: Fluid, volume_m3: float, wall_j_per_k: float, mass_kg: float, temperature_k: float
    ) -> None:
        self.fluid = fluid
        self.volume_m3 = volume_m3
        self.wall_j_per_k = wall_j_per_k
        self.mass_kg = mass_kg
        self.temperature_k = temperature_k
        self.sat = fluid.saturation(temperature_k)
        self._energy_j = mass_kg * self._evaluate() + wall_j_per_k * temperature_k
        self.settle()

    @property
    def h_v(self) -> float:
        """Enthalpy (J/kg) of the vapour that would leave."""
        if self.liquid_kg > 0.0 or self.rho < 1e-3:
            return self.sat.h_v
        return self.enthalpy_mix

    def exchange(self, mass_kg: float, enthalpy: float) -> None:
        """Take in (positive) or give off mass with its enthalpy (J/kg)."""
        self.mass_kg += mass_kg
        self._energy_j += mass_kg * enthalpy

    def heat(self, energy_j: float) -> None:
        """Take in heat (J)."""
        self._energy_j += energy_j

    def empty(self) -> float:
        """Let everything go. Returns the mass (kg) that left; the wall keeps its temperature."""
        gone = self.mass_kg
        self.mass_kg = 0.0
        self._energy_j = self.wall_j_per_k * self.temperature_k
        self.settle()
        return gone

    def settle(self) -> None:
        """One Newton step of temperature towards the energy, then pressure and phases.

        Energy is the state, so what one step leaves over is taken up by the next.
        """
        u = self._evaluate()
        miss = self._energy_j - self.mass_kg * u - self.wall_j_per_k * self.temperature_k
        capacity = self._capacity()
        if abs(miss) > 1e-7 * capacity:
            self.temperature_k += miss / capacity
            self._evaluate()

    @property
    def full_kg(self) -> float:
        """The mass at which liquid fills the whole vessel."""
        return self.volume_m3 * self.sat.rho_l

    def stiff_capacitance(self) -> float:
        """How much mass (kg) one pascal more presses into a vessel full of liquid."""
        return self.full_kg / FULL_STIFFNESS_PA

    def capacitance(self) -> float:
        """How much mass (kg) one pascal more takes while there is vapour: the slope that a stable step needs."""
        if self.liquid_kg <= 0.0:
            return self.volume_m3 * max(self.rho, 1e-2) / max(self.pressure_pa, 50.0)
        latent = self.sat.h_v - self.sat.h_l
        per_kelvin = latent * self.sat.pressure_pa / (self.fluid.gas_constant * self.temperature_k**2)
        return (self.wall_j_per_k + self.mass_kg * self.fluid.c_l) / (latent * per_kelvin)

    def _capacity(self) -> float:
        sat = self.sat
        if self.liquid_kg <= 0.0:
            return self.wall_j_per_k + self.mass_kg * self.fluid.c_v + 1e-3
        vapour_kg = self.mass_kg - self.liquid_kg
        shift = vapour_kg * 0.03 * (sat.u_v - sat.u_l)
        return self.wall_j_per_k + self.liquid_kg * self.fluid.c_l + vapour_kg * self.fluid.c_v + shift

    def _evaluate(self) -> float:
        """Set phases and pressure from mass and temperature. Returns the specific energy (J/kg)."""
        if self.sat.temperature_k != self.temperature_k:
            self.sat = self.fluid.saturation(self.temperature_k)
        sat = self.sat
        self.rho = rho = self.mass_kg / self.volume_m3
        if rho <= sat.rho_v:
            self.liquid_kg = 0.0
            self.vapour_rho = rho
            self.pressure_pa, u = self.fluid.gas(rho, self.temperature_k)
        elif rho < sat.rho_l:
            quality = (1.0 / rho - 1.0 / sat.rho_l) / (1.0 / sat.rho_v - 1.0 / sat.rho_l)
            self.liquid_kg = self.mass_kg * (1.0 - quality)
            self.vapour_rho = sat.rho_v
            self.pressure_pa = sat.pressure_pa
            u = sat.u_l + quality * (sat.u_v - sat.u_l)
        else:
            self.liquid_kg = self.mass_kg
            self.vapour_rho = sat.rho_v
            self.pressure_pa = sat.pressure_pa + FULL_STIFFNESS_PA * (rho / sat.rho_l - 1.0)
            u = sat.u_l
        self.enthalpy_mix = u + self.pressure_pa / max(rho, 1e-3)
        return u
