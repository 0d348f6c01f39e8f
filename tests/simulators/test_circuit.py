"""The circuit at rest against saturation, and running against what is usual in a workshop."""

from __future__ import annotations

import pytest

from fillmark_sim.circuit import CircuitModel
from fillmark_sim.fluid import fluid
from fillmark_sim.scenario import Circuit

PSI_PA = 6894.757  # NIST SP 811 (2008) appendix B.8
ATMOSPHERE_PA = 101325.0


def _circuit(charge_kg: float, ambient_c: float = 26.85) -> CircuitModel:
    return CircuitModel(
        Circuit("R-134a", 0.58, 0.62, 2.6e-3, initial_kg=charge_kg), fluid("R-134a"), ambient_c, ambient_c
    )


def test_at_rest_a_charged_circuit_stands_at_saturation() -> None:
    # Tillner-Roth & Baehr (1994) Table 8: 300 K, 0.70282 MPa.
    circuit = _circuit(0.5)
    for _ in range(8 * 60):
        circuit.step(0.125)
    assert circuit.low.pressure_pa == pytest.approx(0.70282e6, rel=1e-3)
    assert circuit.high.pressure_pa == pytest.approx(0.70282e6, rel=1e-3)


def test_at_rest_a_breath_of_vapour_stands_below_saturation() -> None:
    # 30 g in 2.6 L is 11.5 kg/m³, far below 34.193 kg/m³ (Table 8): about p = rho R T, R = 8.314 / 0.10203 J/kgK.
    circuit = _circuit(0.030)
    for _ in range(8 * 10):
        circuit.step(0.125)
    ideal_pa = 0.030 / 2.6e-3 * 8.314 / 0.10203 * 300.0
    assert 0.88 * ideal_pa < circuit.low.pressure_pa < ideal_pa


def test_early_in_a_charge_the_compressor_cycles_on_the_low_pressure_switch() -> None:
    # About 15 psi on the low gauge and 65 psi on the high gauge with little in it: common practice, no source.
    circuit = _circuit(0.06, 24.0)
    circuit.running = True
    lows, highs, switched, was = [], [], 0, False
    for step in range(8 * 120):
        circuit.step(0.125)
        switched += circuit.clutch != was
        was = circuit.clutch
        if step > 8 * 20:
            lows.append(circuit.low.pressure_pa)
            highs.append(circuit.high.pressure_pa)
    assert switched >= 6
    assert min(lows) == pytest.approx(15.0 * PSI_PA + ATMOSPHERE_PA, rel=0.15)
    assert max(highs) == pytest.approx(65.0 * PSI_PA + ATMOSPHERE_PA, rel=0.35)


def test_with_a_full_charge_it_runs_through_and_blows_cold() -> None:
    # Low gauge 25 to 45 psi, high gauge 120 to 220 psi near 25 °C: common practice, no source.
    circuit = _circuit(0.6, 26.0)
    circuit.running = True
    for _ in range(8 * 60):
        circuit.step(0.125)
    switched = 0
    for _ in range(8 * 60):
        circuit.step(0.125)
        switched += not circuit.clutch
    assert switched == 0
    assert 25.0 * PSI_PA < circuit.low.pressure_pa - ATMOSPHERE_PA < 45.0 * PSI_PA
    assert 120.0 * PSI_PA < circuit.high.pressure_pa - ATMOSPHERE_PA < 220.0 * PSI_PA
    assert circuit.vent_k - 273.15 < 14.0


def test_a_starved_circuit_blows_warmer_than_a_full_one() -> None:
    vents = []
    for charge_kg in (0.08, 0.6):
        circuit = _circuit(charge_kg, 26.0)
        circuit.running = True
        for _ in range(8 * 90):
            circuit.step(0.125)
        vents.append(circuit.vent_k)
    assert vents[0] > vents[1] + 4.0


def test_the_circuit_loses_nothing() -> None:
    circuit = _circuit(0.4)
    before_kg = circuit.mass_kg
    circuit.running = True
    for _ in range(8 * 60):
        circuit.step(0.125)
    assert circuit.mass_kg == pytest.approx(before_kg, abs=1e-12)
