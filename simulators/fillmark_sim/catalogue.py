"""The demo scenarios. Settings and vehicles are invented."""

from __future__ import annotations

from fillmark_sim.scenario import (
    Circuit, Container, Event, Hose, Probes, Radio, Scale, Scenario, Stage, Technician,
)  # fmt: skip

BY_HAND = Technician(policy="by_hand")

DEMOS: tuple[Scenario, ...] = (
    Scenario(
        name="harvester-clean",
        title="Harvester cab, R-134a: a clean charge from one can in warm water",
        circuit=Circuit("R-134a", 0.58, 0.62, 2.6e-3),
        containers=(
            Container("C1", 0.75, 0.9e-3, metal_kg=0.25, temperature_c=24.0, bath_c=42.0, bath_kg=3.0, ua_bath_w_per_k=16.0),
        ),
        technician=BY_HAND,
        ambient_c=24.0,
    ),
)
