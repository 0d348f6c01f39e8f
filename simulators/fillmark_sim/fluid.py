"""Thermodynamic properties for the simulated bay, straight from CoolProp's reference equations.

One cached pair of states a refrigerant: one for saturation, one held in the gas phase. A call costs a few
microseconds, so the physics can ask at every step. CoolProp is imported on first use because that takes a second.
"""

from __future__ import annotations

from functools import cache
from typing import Any, NamedTuple

COOLPROP_NAMES = {
    "R-134a": "R134a", "R-1234yf": "R1234yf", "R-290": "n-Propane", "R-152a": "R152A", "R-32": "R32",
}  # fmt: skip
ICE_POINT_K = 273.15
COLDEST_K = 175.0


class UnknownFluidError(ValueError):
    """A refrigerant that the simulator has no equation of state for."""


class Sat(NamedTuple):
    """Both phases in equilibrium: temperature (K), pressure (Pa), density (kg/m³), energy and enthalpy (J/kg)."""

    temperature_k: float
    pressure_pa: float
    rho_l: float
    rho_v: float
    u_l: float
    u_v: float
    h_l: float
    h_v: float


class Fluid:
    """One pure refrigerant. Temperatures in kelvin, clamped to the two-phase range."""

    def __init__(self, name: str) -> None:
        if name not in COOLPROP_NAMES:
            raise UnknownFluidError(f"no fluid {name!r}; use one of {', '.join(COOLPROP_NAMES)}")
        import CoolProp  # noqa: PLC0415 - the import takes a second, so it waits for the first use

        self.name = name
        state: Any = vars(CoolProp)["AbstractState"]
        self._sat: Any = state("HEOS", COOLPROP_NAMES[name])
        self._gas: Any = state("HEOS", COOLPROP_NAMES[name])
        self._gas.specify_phase(CoolProp.iphase_gas)
        self._qt, self._dt, self._pq = CoolProp.QT_INPUTS, CoolProp.DmassT_INPUTS, CoolProp.PQ_INPUTS
        self._key_rho, self._key_h = CoolProp.iDmass, CoolProp.iHmass
        self.hottest_k = float(self._sat.T_critical()) - 1.0
        self.gas_constant = float(self._sat.gas_constant() / self._sat.molar_mass())
        self._sat.update(self._qt, 0.0, 290.0)
        self.c_l = float(self._sat.cpmass())
        self._sat.update(self._qt, 1.0, 290.0)
        self.c_v = float(self._sat.cvmass())
        self._gas.update(self._dt, 0.01, 290.0)
        self.gamma = float(self._gas.cpmass() / self._gas.cvmass())

    def saturation(self, temperature_k: float) -> Sat:
        """Both phases at a temperature (K)."""
        t = min(max(temperature_k, COLDEST_K), self.hottest_k)
        state = self._sat
        state.update(self._qt, 0.0, t)
        p = state.p()
        rho_v = state.saturated_vapor_keyed_output(self._key_rho)
        h_v = state.saturated_vapor_keyed_output(self._key_h)
        return Sat(t, p, state.rhomass(), rho_v, state.umass(), h_v - p / rho_v, state.hmass(), h_v)

    def saturation_temperature_k(self, pressure_pa: float) -> float:
        """Temperature (K) at which both phases stand at a pressure (Pa)."""
        self._sat.update(self._pq, pressure_pa, 0.0)
        return float(self._sat.T())

    def gas(self, density: float, temperature_k: float) -> tuple[float, float]:
        """Pressure (Pa) and internal energy (J/kg) of vapour at a density (kg/m³) and temperature (K)."""
        self._gas.update(self._dt, max(density, 1e-3), max(temperature_k, COLDEST_K))
        p, u = self._gas.p(), self._gas.umass()
        return (p if density >= 1e-3 else density * self.gas_constant * temperature_k), u


@cache
def fluid(name: str) -> Fluid:
    """The shared properties of one refrigerant.

    Raises:
        UnknownFluidError: no such refrigerant here.
    """
    return Fluid(name)
