"""How fast gas can leave through a hose: conductance, and pump and hose in series.

* Viscous, laminar, round: C = pi d**4 p / (128 eta L), p the mean pressure (Hagen-Poiseuille). In the handbook's units,
  for air at 20 °C: C = 135 d**4 p / L in l/s, with d and L in cm and p in mbar.
* Molecular, long: C = pi d**3 v / (12 L) with the mean thermal speed v = sqrt(8 R T / (pi M)) (Knudsen); for air at
  20 °C: C = 12.1 d**3 / L.
* Between them both are added, which is within some 10 % of the measured transition.
* In series: 1 / S_eff = 1 / S_pump + 1 / C.

Source: Leybold, Fundamentals of Vacuum Technology, section 1.5 (the two handbook numbers), from memory; the tests work
them out again.
"""

from __future__ import annotations

import math

from fillmark.engine.vacuum.leak_rate import GAS_CONSTANT

AIR_PA_S = 1.82e-5
"""Viscosity of air at 20 °C. Handbook value."""

AIR_KG_MOL = 0.028964


def viscous_m3_s(bore_m: float, length_m: float, mean_pressure_pa: float) -> float:
    """Conductance in laminar flow of air at 20 °C, m³/s."""
    return math.pi * bore_m**4 * mean_pressure_pa / (128.0 * AIR_PA_S * length_m)


def molecular_m3_s(bore_m: float, length_m: float, temperature_k: float = 293.15) -> float:
    """Conductance of a long tube in molecular flow of air, m³/s."""
    speed = math.sqrt(8.0 * GAS_CONSTANT * temperature_k / (math.pi * AIR_KG_MOL))
    return math.pi * bore_m**3 * speed / (12.0 * length_m)


def conductance_m3_s(bore_m: float, length_m: float, mean_pressure_pa: float) -> float:
    """Conductance of a hose for air, viscous and molecular added, m³/s."""
    return viscous_m3_s(bore_m, length_m, mean_pressure_pa) + molecular_m3_s(bore_m, length_m)


def in_series_m3_s(speed_m3_s: float, conductance: float) -> float:
    """Effective speed of a pump behind a conductance, m³/s."""
    return 1.0 / (1.0 / speed_m3_s + 1.0 / conductance)


def effective_speed_m3_s(speed_m3_s: float, bore_m: float, length_m: float, pressure_pa: float) -> float:
    """Effective speed at the circuit's end of the hose, whose mean pressure lies between circuit and pump, m³/s."""
    found = speed_m3_s
    for _ in range(40):
        at_pump = pressure_pa * found / speed_m3_s
        found = 0.5 * (
            found + in_series_m3_s(speed_m3_s, conductance_m3_s(bore_m, length_m, (pressure_pa + at_pump) / 2.0))
        )
    return found
