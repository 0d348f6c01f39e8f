"""Flow relations against textbook results."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark_sim.flow import critical_ratio, flashing_flux, friction_factor, nozzle_flux, omega, series_area
from fillmark_sim.fluid import fluid


def test_choked_air_follows_the_flow_function_of_the_textbooks() -> None:
    # Air, gamma 1.4, R 287 J/kgK: m·sqrt(T0)/(A·p0) = 0.0404 sqrt(K)·s/m when choked (gas dynamics, from memory).
    p, t = 6e5, 293.0
    flux = nozzle_flux(p, p / (287.0 * t), 1.4, 1e5)
    assert flux * math.sqrt(t) / p == pytest.approx(0.0404, rel=2e-3)


def test_air_chokes_at_the_critical_ratio_of_the_textbooks() -> None:
    # 0.5283 for gamma 1.4 (gas dynamics, from memory).
    rho = 6e5 / (287.0 * 293.0)
    choked = nozzle_flux(6e5, rho, 1.4, 0.0)
    assert nozzle_flux(6e5, rho, 1.4, 0.52 * 6e5) == choked
    assert nozzle_flux(6e5, rho, 1.4, 0.56 * 6e5) < choked


def test_omega_one_is_the_isothermal_ideal_gas() -> None:
    # By hand: G² = -2 p rho eta² ln eta is greatest at eta = exp(-1/2), where G = exp(-1/2) sqrt(p rho).
    assert critical_ratio(1.0) == pytest.approx(math.exp(-0.5), rel=0.01)
    assert flashing_flux(5e5, 20.0, 1.0, 0.0) == pytest.approx(math.exp(-0.5) * math.sqrt(5e5 * 20.0), rel=1e-3)


@pytest.mark.parametrize("value", [1.0, 2.0, 5.0, 10.0, 30.0])
def test_the_critical_ratio_solves_leungs_equation(value: float) -> None:
    # eta² + (w² - 2w)(1 - eta)² + 2w² ln eta + 2w²(1 - eta) = 0 (Leung 1986, from memory), by bisection.
    def miss(eta: float) -> float:
        last = 2.0 * value**2 * (math.log(eta) + 1.0 - eta)
        return eta**2 + (value**2 - 2.0 * value) * (1.0 - eta) ** 2 + last

    low, high = 0.05, 1.0
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if miss(middle) < 0.0 else (low, middle)
    assert critical_ratio(value) == pytest.approx(low, rel=0.015)


def test_a_liquid_that_does_not_flash_obeys_bernoulli() -> None:
    assert flashing_flux(6e5, 1200.0, 1e-9, 4e5) == pytest.approx(math.sqrt(2.0 * 1200.0 * 2e5), rel=1e-3)


def test_saturated_liquid_passes_less_than_the_equilibrium_rate() -> None:
    # Fauske's equilibrium rate model, h_fg / v_fg / sqrt(T c), with Table 8 of Tillner-Roth & Baehr at 300 K and
    # c = 1.43 kJ/kgK (from memory): it bounds the omega result, which has the choked pressure ratio as a factor.
    sat = fluid("R-134a").saturation(300.0)
    rate = 176.08e3 / (1.0 / 34.193 - 1.0 / 1199.7) / math.sqrt(300.0 * 1430.0)
    value = omega(sat, 1430.0, 0.0)
    flux = flashing_flux(0.70282e6, 1199.7, value, 0.0)
    assert flux == pytest.approx(rate * critical_ratio(value), rel=0.01)
    assert flux < rate


@pytest.mark.parametrize(("reynolds", "factor"), [(1000.0, 0.064), (1e5, 0.0178)])
def test_friction_factors_are_those_of_the_moody_chart(reynolds: float, factor: float) -> None:
    assert friction_factor(reynolds) == pytest.approx(factor, rel=5e-3)


def test_a_slow_hose_obeys_hagen_and_poiseuille() -> None:
    # By hand: dp = 128 mu L m / (pi rho D^4), at Re = 4 m / (pi D mu) about 530.
    bore, length, mu, rho, flow = 4.8e-3, 1.8, 2e-4, 1200.0, 4e-4
    drop = 128.0 * mu * length * flow / (math.pi * rho * bore**4)
    area = series_area(1.0, bore, length, flow, mu)
    assert area * math.sqrt(2.0 * rho * drop) == pytest.approx(flow, rel=1e-3)


@given(
    p1=st.floats(1e4, 3e6),
    share=st.floats(0.0, 1.2),
    more=st.floats(0.0, 0.3),
    quality=st.floats(0.0, 1.0),
)
def test_flow_never_grows_with_back_pressure(p1: float, share: float, more: float, quality: float) -> None:
    gas = fluid("R-134a")
    value = omega(gas.saturation(300.0), gas.c_l, quality)
    rho = 20.0 + 1000.0 * (1.0 - quality)
    low, high = share * p1, (share + more) * p1
    assert flashing_flux(p1, rho, value, low) >= flashing_flux(p1, rho, value, high) - 1e-9
    assert nozzle_flux(p1, 20.0, gas.gamma, low) >= nozzle_flux(p1, 20.0, gas.gamma, high) - 1e-9
    assert nozzle_flux(p1, 20.0, gas.gamma, p1) == 0.0
