"""Leak rates: from pV flow to a mass flow of refrigerant, with the caution that belongs to it.

* Q = V dp/dt, in Pa m³/s (10 mbar l/s). Pfeiffer Vacuum, Know-how book, section 7.1.2.
* m' = Q M / (R T). CODATA 2018: R = 8.314462618 J/(mol K), exact. M is read from the refrigerant's thin vapour, which
  is ideal at THIN_PA.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fillmark.engine.quantity import Quantity, plus_minus
from fillmark.refrigerants.protocol import Refrigerant

GAS_CONSTANT = 8.314462618
REFERENCE_K = 293.15
"""20 °C, the reference temperature of EN 1779, from memory. 0 °C would move a mass flow by 7 %."""

THIN_PA = 10.0
"""So thin a vapour is ideal to some parts in a million at room temperature."""

YEAR_S = 365.0 * 86400.0

EQUIVALENT_CAUTION = (
    "A vacuum test moves air inwards at 1 bar; in use refrigerant goes outwards at many bar, and other seals open. "
    "Do not grade a leak in grams per year by it: search it with pressure and a leak detector."
)


@dataclass(frozen=True, slots=True)
class RefrigerantEquivalent:
    """The mass flow of refrigerant with the same pV flow, and why it is no grade."""

    mass_flow_kg_s: Quantity
    refrigerant: str
    temperature_k: float
    caution: str = EQUIVALENT_CAUTION

    @property
    def sentence(self) -> str:
        """Mass flow and caution in one text, so that nothing shows the one without the other."""
        micrograms = self.mass_flow_kg_s.scaled(1e9)
        return (
            f"The same flow of {self.refrigerant} at {self.temperature_k - 273.15:.0f} °C would be "
            f"{plus_minus(micrograms.value, 2.0 * micrograms.u)} µg/s. {self.caution}"
        )


def pv_flow(volume_m3: Quantity, rise_pa_s: Quantity) -> Quantity:
    """Q = V dp/dt, Pa m³/s, with both uncertainties."""
    return Quantity(
        volume_m3.value * rise_pa_s.value,
        math.hypot(volume_m3.value * rise_pa_s.u, volume_m3.u * rise_pa_s.value),
    )


def mass_flow_kg_s(q_pa_m3_s: float, molar_mass_kg_mol: float, temperature_k: float = REFERENCE_K) -> float:
    """M' = Q M / (R T), kg/s."""
    return q_pa_m3_s * molar_mass_kg_mol / (GAS_CONSTANT * temperature_k)


def pv_flow_of_mass(mass_flow: float, molar_mass_kg_mol: float, temperature_k: float = REFERENCE_K) -> float:
    """Q = m' R T / M, Pa m³/s."""
    return mass_flow * GAS_CONSTANT * temperature_k / molar_mass_kg_mol


def molar_mass_kg_mol(refrigerant: Refrigerant, temperature_k: float = REFERENCE_K) -> float:
    """Molar mass by rho R T / p of the thin vapour, kg/mol.

    Raises:
        OutOfRangeError: the refrigerant has no vapour at that temperature.
    """
    return refrigerant.vapour_density_kg_m3(temperature_k, THIN_PA) * GAS_CONSTANT * temperature_k / THIN_PA


def refrigerant_equivalent(
    q_pa_m3_s: Quantity, refrigerant: Refrigerant, temperature_k: float = REFERENCE_K
) -> RefrigerantEquivalent:
    """The same pV flow as refrigerant. It always carries its caution.

    Raises:
        OutOfRangeError: the refrigerant has no vapour at that temperature.
    """
    share = mass_flow_kg_s(1.0, molar_mass_kg_mol(refrigerant, temperature_k), temperature_k)
    return RefrigerantEquivalent(q_pa_m3_s.scaled(share), refrigerant.name, temperature_k)
