"""Containers against printed tables and hand-computed balances."""

from __future__ import annotations

import pytest

from fillmark_sim.container import ContainerModel
from fillmark_sim.fluid import UnknownFluidError, fluid
from fillmark_sim.scenario import Container
from fillmark_sim.vessel import Vessel

# Tillner-Roth & Baehr, J. Phys. Chem. Ref. Data 23 (1994) 657, Table 8 p. 696: T (K), p (Pa), rho', rho'' (kg/m³).
SATURATION_R134A = [
    (200.0, 0.00631e6, 1510.5, 0.38977),
    (250.0, 0.11561e6, 1367.9, 5.9546),
    (300.0, 0.70282e6, 1199.7, 34.193),
    (350.0, 2.4611e6, 951.32, 140.99),
]


@pytest.mark.parametrize(("t_k", "p_pa", "rho_l", "rho_v"), SATURATION_R134A)
def test_a_can_with_liquid_stands_at_the_printed_saturation_pressure(
    t_k: float, p_pa: float, rho_l: float, rho_v: float
) -> None:
    can = Vessel(fluid("R-134a"), 0.9e-3, 100.0, 0.5, t_k)
    assert can.pressure_pa == pytest.approx(p_pa, rel=5e-4)  # 0.00631 MPa is printed with three digits
    vapour_m3 = 0.9e-3 - can.liquid_kg / rho_l
    assert can.liquid_kg + vapour_m3 * rho_v == pytest.approx(0.5, rel=1e-4)


def test_vapour_alone_has_the_printed_density() -> None:
    # Tillner-Roth & Baehr, Table 9 p. 700: 265 K, 0.2 MPa, 9.9171 kg/m³.
    can = Vessel(fluid("R-134a"), 1e-3, 100.0, 9.9171e-3, 265.0)
    assert can.liquid_kg == 0.0
    assert can.pressure_pa == pytest.approx(0.2e6, rel=1e-4)


def test_r1234yf_vapour_has_the_printed_pressure() -> None:
    # Lemmon & Akasaka, Int. J. Thermophys. 43 (2022) 119, Table 7: 280 K, 0.1 mol/dm³, 0.2185345 MPa.
    can = Vessel(fluid("R-1234yf"), 1e-3, 100.0, 0.1 * 114.0416e-3, 280.0)
    assert can.pressure_pa == pytest.approx(0.2185345e6, rel=1e-4)


def test_drawing_vapour_cools_the_can_by_the_latent_heat() -> None:
    # By hand, 10 g from 0.7 kg at 300 K. h'' - h' = 413.27 - 237.19 kJ/kg (Table 8 above). Liquid 1.43 kJ/kgK (ASHRAE
    # Fundamentals, from memory), wall 98 J/K. The room of 10 g of liquid fills with vapour: 34.193 / 1199.7 more.
    heat_j = 0.010 * (1.0 + 34.193 / 1199.7) * (413.27e3 - 237.19e3)
    expected_k = heat_j / (0.69 * 1430.0 + 98.0)
    can = Vessel(fluid("R-134a"), 0.9e-3, 98.0, 0.7, 300.0)
    for _ in range(100):
        can.exchange(-1e-4, can.h_v)
        can.settle()
    assert 300.0 - can.temperature_k == pytest.approx(expected_k, rel=0.03)
    assert can.pressure_pa < 0.70282e6


def test_drawing_liquid_hardly_cools_the_can() -> None:
    # By hand: only the vapour that fills the room is evaporated: 10 g * 34.193 / 1199.7 * 176.08 kJ/kg = 50 J.
    can = Vessel(fluid("R-134a"), 0.9e-3, 98.0, 0.7, 300.0)
    for _ in range(100):
        can.exchange(-1e-4, can.sat.h_l)
        can.settle()
    assert 300.0 - can.temperature_k == pytest.approx(50.2 / (0.69 * 1430.0 + 98.0), rel=0.1)


def test_warm_water_gives_back_what_the_can_takes() -> None:
    can = ContainerModel(
        Container("C1", 0.5, 0.7e-3, temperature_c=10.0, bath_c=40.0, ua_air_w_per_k=0.0), fluid("R-134a"), 313.15
    )
    before_k = can.vessel.temperature_k
    for _ in range(8 * 600):
        can.step(0.125)
    # By hand: 0.5 kg * 1.42 kJ/kgK + 0.12 kg * 490 J/kgK against 1.5 kg of water, 4186 J/kgK, air as warm as the bath.
    small, water = 0.5 * 1420.0 + 0.12 * 490.0, 1.5 * 4186.0
    mixed_k = (small * before_k + water * 313.15) / (small + water)
    assert can.vessel.temperature_k == pytest.approx(mixed_k, abs=0.7)


def test_unscrewing_empties_and_keeps_the_wall() -> None:
    hose = Vessel(fluid("R-134a"), 33e-6, 100.0, 0.02, 290.0)
    assert hose.empty() == 0.02
    assert (hose.mass_kg, hose.pressure_pa) == (0.0, 0.0)
    assert hose.temperature_k == pytest.approx(290.0)


def test_an_unknown_fluid_is_refused_by_name() -> None:
    with pytest.raises(UnknownFluidError, match="R-999"):
        fluid("R-999")
