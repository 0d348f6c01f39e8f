"""An evacuated circuit against textbooks, printed tables and balances."""

from __future__ import annotations

import math

import pytest

from fillmark_sim.vacuum.circuit import Given, VacuumCircuit, leak_pa_m3_s
from fillmark_sim.vacuum.oil import Dissolved
from fillmark_sim.vacuum.pump import Pump, PumpData, aperture_m3_s, molecular_m3_s, viscous_m3_s_pa
from fillmark_sim.vacuum.water import TRIPLE_K, WATER_KG_PER_MOL, WetSpot, saturation_pa

ROOM_K = 293.15
WIDE = PumpData(1.0e-3, 1e-3, hose_m=0.1, bore_m=0.2, port_m=0.2)


def _run(
    circuit: VacuumCircuit, seconds: float, dt_s: float, pump: Pump | None = None, around_k: float = ROOM_K
) -> None:
    for _ in range(round(seconds / dt_s)):
        circuit.step(dt_s, circuit.gas_k, around_k, pump)


# IAPWS R14-08 and IAPWS-95 by the iapws library: micron as mmHg/1000, Pa, saturation temperature in °C.
@pytest.mark.parametrize(
    ("pressure_pa", "celsius"),
    [
        (13.332, -39.67), (26.664, -33.36), (66.661, -24.48), (133.322, -17.31), (266.645, -9.71), (611.15, 0.00),
        (666.61, 1.20), (1333.2, 11.23), (2666.4, 22.13),
    ],
)  # fmt: skip
def test_water_boils_and_ice_sublimes_at_the_printed_temperatures(pressure_pa: float, celsius: float) -> None:
    # The temperature is printed to 0.005 K, which is 0.05 % in pressure.
    assert saturation_pa(celsius + 273.15) == pytest.approx(pressure_pa, rel=1.0e-3)


# ASHRAE Handbook of Fundamentals 2017, chapter 1, table 3.
@pytest.mark.parametrize(
    ("celsius", "pressure_pa"), [(-60, 1.08), (-20, 103.24), (-5, 401.74), (5, 872.6), (25, 3169.7)]
)
def test_saturation_is_that_of_the_handbook(celsius: float, pressure_pa: float) -> None:
    assert saturation_pa(celsius + 273.15) == pytest.approx(pressure_pa, rel=1e-3, abs=0.005)


def test_conductances_are_those_of_the_textbook() -> None:
    # Air at 20 °C, d and L in cm, p in mbar: 135 d⁴/L · p and 12.1 d³/L in l/s; an aperture 11.6 l/s each cm².
    assert viscous_m3_s_pa(0.01, 1.0) * 100.0 == pytest.approx(135.0 / 100.0 * 1e-3, rel=0.01)
    assert molecular_m3_s(0.01, 1.0) == pytest.approx(12.1 / 100.0 * 1e-3, rel=0.01)
    assert aperture_m3_s(0.01) == pytest.approx(11.6 * math.pi / 4.0 * 1e-3, rel=0.01)


def test_pump_down_follows_volume_over_speed() -> None:
    # Textbook: p = p0 exp(-t S / V). 4 l at 1 l/s: four seconds for a factor e.
    circuit = VacuumCircuit(4.0e-3, ROOM_K)
    circuit.fill(air_pa=1.0e4)
    _run(circuit, 20.0, 0.01, Pump(WIDE))
    assert circuit.pressure_pa == pytest.approx(1.0e4 * math.exp(-5.0), rel=0.02)


def test_a_thin_hose_throttles_the_pump_in_series() -> None:
    # By hand: port, hose (viscous at the mean pressure, and molecular) and pump in series carry one throughput.
    data = PumpData(1.2e-3, 4.0, hose_m=1.5, bore_m=4.8e-3, port_m=1.5e-3)
    for pressure_pa in (20.0, 200.0, 5000.0):
        through = Pump(data).throughput_pa_m3_s(pressure_pa)
        behind_port = pressure_pa - through / aperture_m3_s(1.5e-3)
        before_pump = 4.0 + through / 1.2e-3
        hose = viscous_m3_s_pa(4.8e-3, 1.5) * (behind_port + before_pump) / 2.0 + molecular_m3_s(4.8e-3, 1.5)
        assert hose * (behind_port - before_pump) == pytest.approx(through, rel=1e-9)
    assert Pump(data).throughput_pa_m3_s(20.0) / 20.0 < 0.02 * 1.2e-3
    assert Pump(data).throughput_pa_m3_s(3.0) == 0.0


@pytest.mark.parametrize("dt_s", [0.05, 1.0, 10.0])
def test_the_pump_never_draws_below_its_ultimate_pressure(dt_s: float) -> None:
    circuit = VacuumCircuit(4.0e-3, ROOM_K)
    circuit.fill(air_pa=1.0e5)
    _run(circuit, 900.0, dt_s, Pump(PumpData(1.2e-3, 7.0, hose_m=0.9, bore_m=9.5e-3, port_m=4e-3)))
    assert circuit.pressure_pa == pytest.approx(7.0, abs=0.01)
    assert circuit.pressure_pa >= 7.0 - 1e-9


def test_the_rise_of_a_leak_is_that_of_the_textbook() -> None:
    # Pfeiffer Vacuum, Know-how book, 7.1.2: a tyre of 4 l, 1000 hPa in 30 days: 1.5e-4 Pa·m³/s. Into a vacuum of the
    # same volume that leak makes 1.5e-4 / 4e-3 Pa a second.
    q = 1.0e5 * 4.0e-3 / (30.0 * 86400.0)
    assert q == pytest.approx(1.5e-4, rel=0.03)
    circuit = VacuumCircuit(4.0e-3, ROOM_K, q)
    circuit.fill(air_pa=20.0)
    _run(circuit, 1800.0, 10.0)
    assert circuit.pressure_pa - 20.0 == pytest.approx(1800.0 * 0.0386, rel=0.002)


def test_a_leak_turns_round_at_the_atmosphere_and_grows_with_the_square() -> None:
    assert leak_pa_m3_s(1e-4, 101325.0) == 0.0
    assert leak_pa_m3_s(1e-4, 0.0) == 1e-4
    assert leak_pa_m3_s(1e-4, 5.0 * 101325.0) == pytest.approx(-24e-4)


def test_a_gas_in_a_closed_volume_follows_p_over_t() -> None:
    circuit = VacuumCircuit(4.0e-3, 300.0)
    circuit.fill(air_pa=1.0e6)
    circuit.step(1.0, 306.0, 306.0)
    assert circuit.pressure_pa == pytest.approx(1.0e6 * 306.0 / 300.0, rel=1e-12)


def test_a_wet_circuit_rises_to_the_saturation_of_its_water_and_no_further() -> None:
    # ASHRAE Fundamentals 2017, chapter 1, table 3: 872.6 Pa at 5 °C.
    spot = WetSpot(1e-3, 278.15, wall_j_per_k=100.0, ua_w_per_k=1.0, speed_m3_s=1e-3)
    circuit = VacuumCircuit(4.0e-3, ROOM_K, spot=spot)
    _run(circuit, 3600.0, 5.0, around_k=278.15)
    assert circuit.pressure_pa == pytest.approx(872.6, rel=0.002)


def test_pumped_water_freezes_when_little_heat_comes_and_then_stands_below_the_triple_point() -> None:
    spot = WetSpot(2e-3, 288.15, wall_j_per_k=5.0, ua_w_per_k=0.05, speed_m3_s=2e-3)
    circuit = VacuumCircuit(3.0e-3, ROOM_K, spot=spot)
    circuit.fill(air_pa=1e5)
    _run(circuit, 900.0, 0.5, Pump(PumpData(1.2e-3, 4.0, hose_m=0.9, bore_m=9.5e-3, port_m=4e-3)), 288.15)
    assert spot.ice_kg == spot.mass_kg > 0.0
    assert spot.temperature_k < 268.0
    assert circuit.pressure_pa < 611.7


def test_evaporation_takes_its_heat_from_the_water() -> None:
    # By hand: 1 % of the water at 20 °C evaporates without any heat from outside and cools the rest by
    # 0.01 * 2454 kJ/kg / 4.19 kJ/kgK = 5.9 K (2454 kJ/kg at 20 °C: steam tables, from memory).
    spot = WetSpot(1e-3, ROOM_K, wall_j_per_k=1e-9, ua_w_per_k=0.0, speed_m3_s=1e-3)
    for _ in range(100):
        spot.give(1.0, 1e-7, ROOM_K)
    assert ROOM_K - spot.temperature_k == pytest.approx(5.86 / 0.99, rel=0.01)


def test_freezing_takes_the_heat_of_fusion() -> None:
    # Ice at 273.16 K and 611.657 Pa: enthalpy -333.44 kJ/kg (IAPWS R10-06, table 6).
    water = WetSpot(1e-3, TRIPLE_K, wall_j_per_k=10.0, ua_w_per_k=0.0, speed_m3_s=1e-3)
    ice = WetSpot(1e-3, TRIPLE_K - 1e-9, wall_j_per_k=10.0, ua_w_per_k=0.0, speed_m3_s=1e-3)
    assert water.energy_j - ice.energy_j == pytest.approx(1e-3 * 333.444e3, rel=1e-3)
    assert water.ice_kg == 0.0
    assert ice.ice_kg == pytest.approx(1e-3)


def test_outgassing_slows_with_the_square_root_of_time() -> None:
    # Outgassing of a diffusing layer falls with t^-1/2 (textbooks of vacuum technology).
    oil = Dissolved(1e-3, tau_s=7200.0, kg_per_pa=0.0)
    given = [oil.give(10.0, 0.0) for _ in range(200)]
    assert given[19] / given[99] == pytest.approx(math.sqrt(5.0), rel=0.1)
    assert oil.mass_kg + sum(given) == pytest.approx(1e-3, rel=1e-12)


def test_oil_and_gas_come_to_henrys_balance() -> None:
    oil = Dissolved(1e-3, tau_s=300.0, kg_per_pa=5e-8)
    circuit = VacuumCircuit(4.0e-3, ROOM_K, refrigerant_oil=oil)
    _run(circuit, 7200.0, 10.0)
    # By hand: 1 g shared between oil (5e-8 kg/Pa) and gas (V M / R T = 1.675e-7 kg/Pa).
    assert circuit.pressure_pa == pytest.approx(1e-3 / (5e-8 + 1.6745e-7), rel=1e-3)


def test_nothing_is_lost_or_made() -> None:
    spot = WetSpot(5e-4, 285.0, wall_j_per_k=30.0, ua_w_per_k=0.3, speed_m3_s=1e-3)
    bound = Dissolved(1e-4, tau_s=900.0, kg_per_pa=1e-7)
    oil = Dissolved(1e-3, tau_s=1800.0, kg_per_pa=6e-8)
    circuit = VacuumCircuit(4.0e-3, ROOM_K, 1e-4, spot, bound, oil)
    circuit.fill(air_pa=1e5)
    molar = circuit.refrigerant_kg_per_mol

    def everything() -> float:
        gas = circuit.air_mol + circuit.water_mol + circuit.refrigerant_mol
        return gas + (spot.mass_kg + bound.mass_kg) / WATER_KG_PER_MOL + oil.mass_kg / molar

    before = everything()
    _run(circuit, 600.0, 2.0, Pump(PumpData()), 285.0)
    assert everything() == pytest.approx(before + circuit.given.leak - circuit.given.pumped, rel=1e-12)
    circuit.given, before = Given(), everything()
    _run(circuit, 600.0, 2.0, None, 285.0)
    assert everything() == pytest.approx(before + circuit.given.leak, rel=1e-12)
    assert circuit.given.water > 0.0 < circuit.given.refrigerant


def test_water_worsens_the_pump_unless_its_ballast_is_open() -> None:
    closed, opened = Pump(PumpData(ultimate_pa=4.0)), Pump(PumpData(ultimate_pa=4.0, ballast=True))
    closed.swallow(2e-3)
    opened.swallow(2e-3)
    assert closed.ultimate_pa > opened.ultimate_pa > 4.0


def test_long_steps_tell_the_same_story_as_short_ones() -> None:
    found = []
    for dt_s in (0.5, 10.0):
        spot = WetSpot(1e-3, 288.15, wall_j_per_k=60.0, ua_w_per_k=0.3, speed_m3_s=1e-3)
        circuit = VacuumCircuit(4.0e-3, ROOM_K, 2e-5, spot)
        circuit.fill(air_pa=50.0)
        _run(circuit, 600.0, dt_s, around_k=288.15)
        found.append(circuit.pressure_pa)
    assert found[1] == pytest.approx(found[0], rel=0.02)
