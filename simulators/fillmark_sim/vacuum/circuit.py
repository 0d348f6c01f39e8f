"""An evacuated circuit: air, water vapour and refrigerant vapour in one volume, and where they come from and go to.

Amounts (mol) are the state, so nothing is lost or made. A step is implicit in the pressures at its end: long steps
are stable. What each source has given is kept, for the truth.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from fillmark_sim.vacuum.oil import Dissolved
from fillmark_sim.vacuum.pump import Pump
from fillmark_sim.vacuum.water import GAS_J_PER_MOLK, WATER_KG_PER_MOL, WetSpot

ATMOSPHERE_PA = 101325.0
REFRIGERANT_KG_PER_MOL = 0.102032


@dataclass(slots=True)
class Given:
    """What has come in (mol): through the leak, from water, from refrigerant in the oil; and pumped."""

    leak: float = 0.0
    water: float = 0.0
    refrigerant: float = 0.0
    pumped: float = 0.0

    @property
    def volatile(self) -> float:
        """From water and from oil."""
        return self.water + self.refrigerant


def leak_pa_m3_s(vacuum_q: float, pressure_pa: float, atmosphere_pa: float = ATMOSPHERE_PA) -> float:
    """Gas through a leak (Pa·m³/s), positive inward; `vacuum_q` is what it passes into a vacuum.

    Viscous laminar, proportional to the difference of the squares of the pressures: the law for leaks of 1e-6 to
    1e-2 Pa·m³/s (EN 1779 and textbooks, from memory). Constant for a pressure far below the atmosphere.
    """
    ratio = pressure_pa / atmosphere_pa
    return vacuum_q * (1.0 - ratio * ratio)


@dataclass(slots=True)
class VacuumCircuit:
    """State of the circuit.

    Attributes:
        volume_m3: inner volume.
        gas_k: temperature of the gas.
        leak_q: leak into a vacuum, Pa·m³/s.
        spot: free water, if any.
        water_oil: water bound in oil, if any.
        refrigerant_oil: refrigerant in oil, if any.
        refrigerant_kg_per_mol: its molar mass.
    """

    volume_m3: float
    gas_k: float
    leak_q: float = 0.0
    spot: WetSpot | None = None
    water_oil: Dissolved | None = None
    refrigerant_oil: Dissolved | None = None
    refrigerant_kg_per_mol: float = REFRIGERANT_KG_PER_MOL
    atmosphere_pa: float = ATMOSPHERE_PA
    air_mol: float = 0.0
    water_mol: float = 0.0
    refrigerant_mol: float = 0.0
    given: Given = field(default_factory=Given)

    def fill(self, *, air_pa: float = 0.0, water_pa: float = 0.0, refrigerant_pa: float = 0.0) -> None:
        """Set the gas by its partial pressures (Pa)."""
        per_pa = self._mol_per_pa
        self.air_mol, self.water_mol, self.refrigerant_mol = air_pa * per_pa, water_pa * per_pa, refrigerant_pa * per_pa

    @property
    def _mol_per_pa(self) -> float:
        return self.volume_m3 / (GAS_J_PER_MOLK * self.gas_k)

    @property
    def pressure_pa(self) -> float:
        """Total pressure, absolute."""
        return (self.air_mol + self.water_mol + self.refrigerant_mol) / self._mol_per_pa

    @property
    def water_pa(self) -> float:
        """Partial pressure of water vapour."""
        return self.water_mol / self._mol_per_pa

    @property
    def water_kg(self) -> float:
        """All water in it: liquid, ice, bound and vapour."""
        spot = 0.0 if self.spot is None else self.spot.mass_kg
        bound = 0.0 if self.water_oil is None else self.water_oil.mass_kg
        return spot + bound + self.water_mol * WATER_KG_PER_MOL

    def rise_pa(self, amount_mol: float) -> float:
        """Pressure (Pa) that an amount of gas makes here."""
        return amount_mol / self._mol_per_pa

    def step(self, dt_s: float, gas_k: float, surroundings_k: float, pump: Pump | None = None) -> None:
        """Advance by one step.

        Args:
            dt_s: length of the step.
            gas_k: temperature of the gas at its end.
            surroundings_k: temperature of what warms the wet spot.
            pump: the pump, when it runs and its valve is open.
        """
        self.gas_k = gas_k
        leaked = dt_s * leak_pa_m3_s(self.leak_q, self.pressure_pa, self.atmosphere_pa) / (GAS_J_PER_MOLK * gas_k)
        self.air_mol += leaked
        self.given.leak += leaked
        if pump is None:
            self._sources(dt_s, surroundings_k, 1.0)
            return
        kept = self._kept(dt_s, pump)
        before = self.given.water + self.given.refrigerant
        start = self.air_mol + self.water_mol + self.refrigerant_mol
        self.air_mol *= kept
        swallowed = self._sources(dt_s, surroundings_k, kept)
        pump.swallow(swallowed * WATER_KG_PER_MOL)
        came = self.given.water + self.given.refrigerant - before
        self.given.pumped += start + came - self.air_mol - self.water_mol - self.refrigerant_mol

    def _kept(self, dt_s: float, pump: Pump) -> float:
        """The share of the gas that the pump leaves in this step; implicit, never below the pump's ultimate."""
        lowest = pump.ultimate_pa
        before = after = self.pressure_pa
        for _ in range(2):
            if after <= lowest:
                return 1.0
            speed = pump.throughput_pa_m3_s(after) / (after - lowest)
            after = (self.volume_m3 * before + dt_s * speed * lowest) / (self.volume_m3 + dt_s * speed)
        drawn = speed * (1.0 - lowest / after) if after > lowest else 0.0
        return self.volume_m3 / (self.volume_m3 + dt_s * drawn)

    def _sources(self, dt_s: float, surroundings_k: float, kept: float) -> float:
        """Let water and oil give off vapour while the pump keeps `kept`. Returns the water pumped (mol)."""
        pumped = self._water(dt_s, surroundings_k, kept) if self.spot or self.water_oil else 0.0
        if not (self.spot or self.water_oil):
            pumped = self.water_mol * (1.0 - kept)
            self.water_mol *= kept
        oil = self.refrigerant_oil
        if oil is None:
            self.refrigerant_mol *= kept
            return pumped
        free, per_pa = oil.offer(dt_s)
        molar = self.refrigerant_kg_per_mol
        per_mol = per_pa / molar / self._mol_per_pa
        end = (self.refrigerant_mol + free / molar) / (1.0 / kept + per_mol)
        self.given.refrigerant += oil.give(dt_s, end / self._mol_per_pa) / molar
        self.refrigerant_mol = end
        return pumped

    def _water(self, dt_s: float, surroundings_k: float, kept: float) -> float:
        spot, oil, molar = self.spot, self.water_oil, WATER_KG_PER_MOL
        spot_free, spot_pa = (0.0, 0.0) if spot is None else spot.offer(dt_s, self.gas_k, surroundings_k)
        oil_free, oil_pa = (0.0, 0.0) if oil is None else oil.offer(dt_s)
        start, per_mol = self.water_mol, 1.0 / (molar * self._mol_per_pa)
        end = (start + (spot_free + oil_free) / molar) / (1.0 / kept + (spot_pa + oil_pa) * per_mol)
        given = spot_free - spot_pa * end / self._mol_per_pa
        if spot is not None:
            if given > spot.mass_kg:
                given = spot.mass_kg
                end = (start + (given + oil_free) / molar) / (1.0 / kept + oil_pa * per_mol)
            spot.give(dt_s, given, surroundings_k)
        if oil is not None:
            given += oil.give(dt_s, end / self._mol_per_pa)
        self.water_mol = end
        self.given.water += given / molar
        return start + given / molar - end
