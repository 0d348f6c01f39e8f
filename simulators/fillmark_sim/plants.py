"""Designs of running circuits, and how circuits of one design differ."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from random import Random

from fillmark_sim.running import Plant

VALVE_AND_RECEIVER = "expansion valve and receiver"
ORIFICE_AND_ACCUMULATOR = "orifice tube and accumulator"
VALVE_WITHOUT_RECEIVER = "expansion valve without receiver"

DESIGNS: Mapping[str, Plant] = {
    VALVE_AND_RECEIVER: Plant("R-134a", valve=True, receiver_m3=0.25e-3, pass_share=0.15),
    ORIFICE_AND_ACCUMULATOR: Plant(
        "R-134a",
        valve=False,
        accumulator_m3=0.45e-3,
        opening_m2=0.92e-6,
        off_c=-4.0,
        on_c=7.0,
        thermostat=False,
    ),
    VALVE_WITHOUT_RECEIVER: Plant(
        "R-407C",
        valve=True,
        swept_m3_s=1.05e-3,
        filling=0.92,
        isentropic=0.68,
        condenser_m3=0.9e-3,
        condenser_air_w_k=800.0,
        condenser_ua=700.0,
        evaporator_m3=0.9e-3,
        evaporator_air_kg_s=0.2,
        evaporator_ua=900.0,
        coil_effect=0.75,
        line_m3=0.25e-3,
        flooded_share=0.28,
        opening_m2=1.0e-6,
        superheat_k=6.0,
        off_c=-24.0,
        on_c=-10.0,
        thermostat=False,
    ),
}

SCATTER: Mapping[str, float] = {
    "swept_m3_s": 0.10, "condenser_air_w_k": 0.12, "condenser_ua": 0.12, "evaporator_air_kg_s": 0.12,
    "evaporator_ua": 0.12, "isentropic": 0.05, "filling": 0.03, "opening_m2": 0.05, "superheat_k": 0.2,
}  # fmt: skip
"""Relative standard deviation from circuit to circuit."""


def built(layout: str, refrigerant: str, luck: Random, *, variable: bool = False) -> Plant:
    """One circuit of a design, as built: no two are alike."""
    design = DESIGNS[layout]
    changed = {
        name: getattr(design, name) * min(max(luck.gauss(1.0, share), 1.0 - 2.5 * share), 1.0 + 2.5 * share)
        for name, share in SCATTER.items()
    }
    # R-1234yf moves a little less heat a stroke; its designers give it a little more of everything.
    changed["swept_m3_s"] *= 1.04 if refrigerant == "R-1234yf" else 1.0
    changed["opening_m2"] *= 1.35 if refrigerant == "R-1234yf" else 1.0
    return replace(design, refrigerant=refrigerant, variable=variable, **changed)
