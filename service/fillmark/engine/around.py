"""What is known around a hose: the pressures at its ends, what is warm and cold, and what flows."""

from __future__ import annotations

from dataclasses import dataclass

SHOULD_FLOW = 1.3
"""So many times the circuit's pressure drives refrigerant out of a container, whatever the clamp's error. Judged."""


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

    @property
    def container_or_air_k(self) -> float | None:
        """Temperature of the container; where nobody measures that, of the air."""
        return self.temperature_k if self.container_k is None else self.container_k

    @property
    def should_flow(self) -> bool:
        """Whether the pressures, both being known, drive refrigerant out of the container."""
        circuit_pa, container_pa = self.circuit_pressure_pa, self.container_pressure_pa
        return circuit_pa is not None and container_pa is not None and container_pa > SHOULD_FLOW * circuit_pa
