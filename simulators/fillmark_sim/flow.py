"""Mass flow through valves, ports and hoses.

* Gas: isentropic nozzle, choked below the critical pressure ratio (any textbook of gas dynamics).
* Liquid that may flash, and wet vapour: the homogeneous equilibrium model in Leung's omega form (AIChE J. 32
  (1986) 1743); the critical ratio as API 520 part I annex C writes it (both from memory, checked in the tests
  against the equation they solve).
* Wall friction of a hose: Darcy-Weisbach with Blasius' or the laminar friction factor, put in series.

All flows become linear in the last two per cent of pressure ratio, so that equal pressures are reached calmly.
"""

from __future__ import annotations

import math

from fillmark_sim.fluid import Sat

LINEAR_ABOVE = 0.98


def nozzle_flux(p1_pa: float, rho1: float, gamma: float, p2_pa: float) -> float:
    """Isentropic mass flux (kg/m²s) of a gas from p1 to p2 (Pa), 0 when p2 >= p1."""
    if p1_pa <= 0.0 or p2_pa >= p1_pa:
        return 0.0
    critical = (2.0 / (gamma + 1.0)) ** (gamma / (gamma - 1.0))
    ratio = p2_pa / p1_pa
    share = min(1.0, (1.0 - ratio) / (1.0 - LINEAR_ABOVE))
    ratio = max(min(ratio, LINEAR_ABOVE), critical)
    root = ratio ** (1.0 / gamma)
    head = 2.0 * gamma / (gamma - 1.0) * p1_pa * rho1 * root * (root - ratio)
    return share * math.sqrt(max(head, 0.0))


def omega(sat: Sat, c_l: float, quality: float) -> float:
    """Leung's compressibility of a mixture at saturation: 1 for an ideal gas, above 5 for a liquid that flashes."""
    v_l, v_v = 1.0 / sat.rho_l, 1.0 / sat.rho_v
    v = v_l + quality * (v_v - v_l)
    flash = (v_v - v_l) / (sat.h_v - sat.h_l)
    return quality * (v_v - v_l) / v + c_l * sat.temperature_k * sat.pressure_pa / v * flash * flash


def critical_ratio(omega_: float) -> float:
    """Pressure ratio at which a flashing mixture chokes."""
    root = math.sqrt(omega_)
    base = 1.0 + (1.0446 - 0.0093431 * root) * omega_**-0.56261
    return float(base ** (-0.70356 + 0.014685 * math.log(omega_)))


def flashing_flux(p1_pa: float, rho1: float, omega_: float, p2_pa: float) -> float:
    """Mass flux (kg/m²s) of a saturated mixture from p1 to p2 (Pa) by the omega method."""
    if p1_pa <= 0.0 or p2_pa >= p1_pa:
        return 0.0
    ratio = p2_pa / p1_pa
    share = min(1.0, (1.0 - ratio) / (1.0 - LINEAR_ABOVE))
    ratio = max(min(ratio, LINEAR_ABOVE), critical_ratio(omega_))
    head = -2.0 * (omega_ * math.log(ratio) + (omega_ - 1.0) * (1.0 - ratio))
    return share * math.sqrt(max(head, 0.0) * p1_pa * rho1) / (omega_ * (1.0 / ratio - 1.0) + 1.0)


def friction_factor(reynolds: float) -> float:
    """Darcy's factor: laminar 64/Re, else Blasius 0.316 Re^-1/4 (the larger of both, so no gap between)."""
    re = max(reynolds, 1.0)
    return float(max(64.0 / re, 0.316 * re**-0.25))


def series_area(orifice_m2: float, bore_m: float, length_m: float, flow_kg_s: float, viscosity: float) -> float:
    """Effective area (m²) of an orifice and a piece of hose behind it.

    Both drops are proportional to flow squared over density: 1/A² = 1/(Cd·a)² + f·L/D / A_hose².
    """
    hose = math.pi / 4.0 * bore_m * bore_m
    reynolds = abs(flow_kg_s) * bore_m / (hose * viscosity)
    loss = friction_factor(max(reynolds, 50.0)) * length_m / bore_m
    return 1.0 / math.sqrt(1.0 / (orifice_m2 * orifice_m2) + loss / (hose * hose))
