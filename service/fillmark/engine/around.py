"""What is known around a hose: the pressures at its ends, what is warm and cold, and what flows."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Conditions:
    """What is known around the hose. None: unknown. Pressures absolute, Pa; temperatures K.

    Attributes:
        flow_kg_s: through it into the circuit; None while that is shut.
        through_kg: what has flowed through it since the circuit was opened.
        dispensed_kg: what has left the containers.
        clamp_age_s: age of the container's temperature.
        container_left_kg, container_full_kg: what the container holds, and held when new.
    """

    temperature_k: float | None
    container_pressure_pa: float | None
    circuit_pressure_pa: float | None
    engine_running: bool | None
    container_k: float | None = None
    flow_kg_s: float | None = None
    through_kg: float = 0.0
    dispensed_kg: float = 0.0
    clamp_age_s: float = 0.0
    container_left_kg: float | None = None
    container_full_kg: float | None = None
