"""Nominal composition of the blends, by mass.

Source: the predefined mixtures of CoolProp 8.0.0 (read), rounded to the whole parts per thousand in which ASHRAE 34
states them. Components are named by their designation in ASHRAE 34.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

MASS_FRACTIONS: Mapping[str, Mapping[str, float]] = MappingProxyType(
    {
        "R-407C": MappingProxyType({"R-32": 0.23, "R-125": 0.25, "R-134a": 0.52}),
        "R-410A": MappingProxyType({"R-32": 0.50, "R-125": 0.50}),
        "R-404A": MappingProxyType({"R-125": 0.44, "R-134a": 0.04, "R-143a": 0.52}),
        "R-507A": MappingProxyType({"R-125": 0.50, "R-143a": 0.50}),
        "R-513A": MappingProxyType({"R-1234yf": 0.56, "R-134a": 0.44}),
        "R-450A": MappingProxyType({"R-134a": 0.42, "R-1234ze(E)": 0.58}),
        "R-452A": MappingProxyType({"R-32": 0.11, "R-125": 0.59, "R-1234yf": 0.30}),
        "R-454B": MappingProxyType({"R-32": 0.689, "R-1234yf": 0.311}),
        "R-454C": MappingProxyType({"R-32": 0.215, "R-1234yf": 0.785}),
    }
)
