"""Refrigerants and their saturation."""

from __future__ import annotations

from fillmark.api.schemas.base import Document
from fillmark.api.schemas.jobs import Safety


class RefrigerantRow(Document):
    """A refrigerant in a list."""

    name: str
    safety_class: str
    flammable: bool
    blend: bool
    zeotropic: bool


class RefrigerantList(Document):
    """All refrigerants."""

    refrigerants: list[RefrigerantRow]


class Gwp(Document):
    """Global warming potential over 100 years; `below` when the source says no more than that."""

    value: float
    below: bool
    edition: str
    source: str
    checked: str


class RefrigerantView(Document):
    """One refrigerant."""

    name: str
    blend: bool
    zeotropic: bool
    safety: Safety
    gwp100: list[Gwp]
    critical_temperature_k: float
    saturation_from_k: float
    saturation_to_k: float
    coolprop: str


class Bubble(Document):
    """Where liquid begins to boil."""

    temperature_k: float
    pressure_abs_pa: float
    liquid_density_kg_m3: float


class Dew(Document):
    """Where vapour begins to condense."""

    temperature_k: float
    pressure_abs_pa: float
    vapour_density_kg_m3: float


class Saturation(Document):
    """Bubble and dew point at one temperature or at one pressure."""

    refrigerant: str
    zeotropic: bool
    bubble: Bubble
    dew: Dew
    coolprop: str
