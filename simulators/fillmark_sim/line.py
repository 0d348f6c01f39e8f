"""The hose between container and service port: what it holds, and what flows in and out.

The hose's pressure changes faster than a step, so both flows are taken at the pressure at the end of the step
(linearised implicit Euler). While the container is open the flow sweeps along whatever liquid lies in the hose; with
the container shut the liquid stays in the sag and boils off. What leaves one vessel enters the next with the same
number: mass is conserved exactly.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, NamedTuple

from fillmark_sim.flow import flashing_flux, nozzle_flux, omega, series_area
from fillmark_sim.fluid import Fluid
from fillmark_sim.scenario import Draw, Hose
from fillmark_sim.vessel import Vessel

DISCHARGE = 0.75
PURGE_BORE_M = 0.6e-3
ATMOSPHERE_PA = 101325.0
LEAST_LIQUID_KG = 2e-4
_VISCOSITY_GAS = 1.2e-5
_VISCOSITY_LIQUID = 2.0e-4
LEAST_DROP = 1e-4

Mode = Literal["vapour", "liquid", "mixture"]


class Feed(NamedTuple):
    """The container that the hose hangs on: its content, the bore of its valve, and which phase it gives."""

    source: Vessel | None
    bore_m: float
    draw: Draw


@dataclass(slots=True)
class Flows:
    """Mass (kg) moved in one step: out of the container, into the circuit, to the outside."""

    inlet_kg: float = 0.0
    outlet_kg: float = 0.0
    purged_kg: float = 0.0


def orifice(bore_m: float) -> float:
    """Effective area (m²) of a sharp bore."""
    return DISCHARGE * math.pi / 4.0 * bore_m * bore_m


class Line:
    """Hose with a valve at either end."""

    def __init__(self, hose: Hose, fluid: Fluid, ambient_k: float) -> None:
        volume = math.pi / 4.0 * hose.bore_m**2 * hose.length_m
        self.hose = hose
        self.ambient_k = ambient_k
        self.vessel = Vessel(fluid, volume, hose.wall_j_per_mk * hose.length_m, 0.0, ambient_k)
        self._flow_kg_s = 0.0

    def step(self, dt_s: float, feed: Feed | None, sink: Vessel | None, *, purge: bool, opening: float = 1.0) -> Flows:
        """Move refrigerant for one step. `feed` or `sink` is None while that valve is shut.

        `opening` is the share of the port's bore that is free.
        """
        source, bore_m, draw = feed or Feed(None, 1e-3, "vapour")
        hose = self.vessel
        wet_feed = source is not None and draw == "liquid" and source.liquid_kg > LEAST_LIQUID_KG
        viscosity = _VISCOSITY_LIQUID if wet_feed else _VISCOSITY_GAS
        half = self.hose.length_m / 2.0
        inlet = outlet = vent = (0.0, 0.0)
        if source is not None:
            area = series_area(orifice(bore_m), self.hose.bore_m, half, self._flow_kg_s, viscosity)
            inlet = _between(source, draw, hose, area, of_second=True)
        area = series_area(opening * orifice(self.hose.port_m), self.hose.bore_m, half, self._flow_kg_s, viscosity)
        if sink is not None:
            outlet = _between(hose, "vapour" if source is None else "mixture", sink, area, of_second=False)
        if purge:
            vent = _to_air(hose, orifice(PURGE_BORE_M))
        slope = inlet[1] + outlet[1] + vent[1]
        rise = _rise(hose, dt_s * (inlet[0] - outlet[0] - vent[0]), dt_s * slope)
        flows = Flows(
            inlet_kg=dt_s * (inlet[0] - inlet[1] * rise) if source is not None else 0.0,
            outlet_kg=dt_s * (outlet[0] + outlet[1] * rise) if sink is not None else 0.0,
            purged_kg=max(0.0, dt_s * (vent[0] + vent[1] * rise)) if purge else 0.0,
        )
        self._limit(flows, source, sink, wet_feed)
        self._move(flows, source, draw, sink)
        hose.heat(dt_s * self.hose.ua_w_per_mk * self.hose.length_m * (self.ambient_k - hose.temperature_k))
        hose.settle()
        self._flow_kg_s = max(flows.inlet_kg, flows.outlet_kg) / dt_s
        return flows

    def _limit(self, flows: Flows, source: Vessel | None, sink: Vessel | None, wet_feed: bool) -> None:
        """Nobody gives more than he has."""
        if source is not None:
            most = source.liquid_kg if wet_feed else 0.2 * source.mass_kg
            flows.inlet_kg = max(-0.5 * self.vessel.mass_kg, min(flows.inlet_kg, most))
        here = self.vessel.mass_kg + min(flows.inlet_kg, 0.0)
        most = 0.9 * (here + max(flows.inlet_kg, 0.0))
        flows.purged_kg = min(flows.purged_kg, most)
        if sink is not None:
            flows.outlet_kg = max(-0.2 * sink.mass_kg, min(flows.outlet_kg, most - flows.purged_kg))

    def _move(self, flows: Flows, source: Vessel | None, draw: Draw, sink: Vessel | None) -> None:
        hose = self.vessel
        from_hose = hose.h_v if source is None else hose.enthalpy_mix
        if source is not None:
            h = _enthalpy(source, draw == "liquid") if flows.inlet_kg >= 0.0 else from_hose
            source.exchange(-flows.inlet_kg, h)
            hose.exchange(flows.inlet_kg, h)
        if sink is not None:
            h = from_hose if flows.outlet_kg >= 0.0 else sink.h_v
            hose.exchange(-flows.outlet_kg, h)
            sink.exchange(flows.outlet_kg, h)
        hose.exchange(-flows.purged_kg, from_hose)


def _rise(hose: Vessel, net_kg: float, slope: float) -> float:
    """Change of the hose's pressure (Pa) in a step, implicit.

    `net_kg` would flow in at the present pressure, `slope` (kg/Pa) less for each pascal more. A hose becomes stiff at
    the moment when liquid fills it, so the step is split there.
    """
    over_kg = hose.mass_kg - hose.full_kg
    to_saturation = hose.sat.pressure_pa - hose.pressure_pa
    if over_kg <= 0.0:
        rise = net_kg / (hose.capacitance() + slope)
        if net_kg - slope * rise + over_kg > 0.0:
            rise = (net_kg + over_kg) / (hose.stiff_capacitance() + slope)
        return rise
    rise = net_kg / (hose.stiff_capacitance() + slope)
    if rise < to_saturation:
        rest_kg = over_kg + net_kg - slope * to_saturation
        rise = to_saturation + rest_kg / (hose.capacitance() + slope)
    return rise


def _enthalpy(vessel: Vessel, liquid: bool) -> float:
    return vessel.sat.h_l if liquid and vessel.liquid_kg > LEAST_LIQUID_KG else vessel.h_v


def _out(vessel: Vessel, mode: Mode, down_pa: float) -> float:
    """Mass flux (kg/m²s) out of a vessel: its vapour, its liquid, or the mixture that a fed hose carries."""
    if mode == "vapour" or vessel.liquid_kg <= LEAST_LIQUID_KG:
        return nozzle_flux(vessel.pressure_pa, vessel.vapour_rho, vessel.fluid.gamma, down_pa)
    quality = max(0.0, 1.0 - vessel.liquid_kg / vessel.mass_kg) if mode == "mixture" else 0.0
    rho = 1.0 / (quality / vessel.sat.rho_v + (1.0 - quality) / vessel.sat.rho_l)
    return flashing_flux(vessel.pressure_pa, rho, omega(vessel.sat, vessel.fluid.c_l, quality), down_pa)


def _between(first: Vessel, mode: Mode, second: Vessel, area: float, *, of_second: bool) -> tuple[float, float]:
    """Flow (kg/s) from first to second, and its slope (kg/s per Pa) against the hose's pressure.

    At the inlet the hose is the second vessel, at the outlet the first. What comes back out of the circuit is vapour.
    The slope is the chord down to equal pressures: the tangent of a square root would overshoot there.
    """
    p1, p2 = first.pressure_pa, second.pressure_pa
    if p1 >= p2:
        flow = area * _out(first, mode, p2)
        return flow, flow / max(p1 - p2, LEAST_DROP * p1 + 1.0)
    flow = area * _out(second, "mixture" if of_second else "vapour", p1)
    return -flow, flow / max(p2 - p1, LEAST_DROP * p2 + 1.0)


def _to_air(hose: Vessel, area: float) -> tuple[float, float]:
    flow = area * nozzle_flux(hose.pressure_pa, hose.vapour_rho, hose.fluid.gamma, ATMOSPHERE_PA)
    return flow, flow / max(hose.pressure_pa, 1e3)
