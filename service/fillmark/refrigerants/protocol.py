"""What the engine may ask of a refrigerant.

Bubble is where a liquid begins to boil, dew where a vapour begins to condense. For a pure refrigerant the two
coincide; for a zeotropic blend they lie kelvins apart and must not be exchanged.
"""

from __future__ import annotations

from typing import Protocol


class OutOfRangeError(ValueError):
    """The state asked for lies outside the range in which the refrigerant has the property.

    For example a saturation pressure above the critical temperature.
    """


class Refrigerant(Protocol):
    """Properties of one refrigerant. Pressures are absolute. All methods raise `OutOfRangeError`."""

    @property
    def name(self) -> str:
        """The designation of ASHRAE 34, for example "R-134a"."""

    @property
    def zeotropic(self) -> bool:
        """Whether bubble and dew differ enough that vapour leaving changes what stays behind."""

    @property
    def critical_temperature_k(self) -> float:
        """Critical temperature, K. Above it there is no saturation."""

    def bubble_pressure_pa(self, temperature_k: float) -> float:
        """Pressure at which liquid of `temperature_k` begins to boil, Pa."""

    def dew_pressure_pa(self, temperature_k: float) -> float:
        """Pressure at which vapour of `temperature_k` begins to condense, Pa."""

    def bubble_temperature_k(self, pressure_pa: float) -> float:
        """Temperature at which liquid under `pressure_pa` begins to boil, K."""

    def dew_temperature_k(self, pressure_pa: float) -> float:
        """Temperature at which vapour under `pressure_pa` begins to condense, K."""

    def saturated_liquid_density_kg_m3(self, temperature_k: float) -> float:
        """Density of liquid at its bubble point, kg/m³."""

    def saturated_vapour_density_kg_m3(self, temperature_k: float) -> float:
        """Density of vapour at its dew point, kg/m³."""

    def vapour_density_kg_m3(self, temperature_k: float, pressure_pa: float) -> float:
        """Density of vapour (superheated, or saturated at most), kg/m³.

        A pressure above the dew pressure is answered with the saturated vapour's density.
        """
