"""The oil balance: what was taken out, what new parts must be given, and what was put back.

Amounts for a part come from the service manual and are entered; none is invented here. The circuit needs

    still to add = removed + sum over replaced parts - added
"""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True, slots=True)
class Replaced:
    """A replaced part and the oil its manual asks for, m³; None: not said."""

    component: str
    oil_m3: float | None


@dataclass(frozen=True, slots=True)
class OilBalance:
    """Oil in m³."""

    removed_m3: float = 0.0
    added_m3: float = 0.0
    replaced: tuple[Replaced, ...] = ()

    def moved(self, volume_m3: float) -> OilBalance:
        """The balance after oil was added, or taken out where it is negative."""
        if volume_m3 < 0.0:
            return replace(self, removed_m3=self.removed_m3 - volume_m3)
        return replace(self, added_m3=self.added_m3 + volume_m3)

    def with_part(self, component: str, oil_m3: float | None) -> OilBalance:
        """The balance after a part was replaced."""
        return replace(self, replaced=(*self.replaced, Replaced(component, oil_m3)))

    @property
    def to_add_m3(self) -> float | None:
        """What is still to be put back; negative: too much went in. None: a part's amount is not known."""
        parts = [part.oil_m3 for part in self.replaced]
        known = [oil for oil in parts if oil is not None]
        if len(known) != len(parts):
            return None
        return self.removed_m3 + sum(known) - self.added_m3

    @property
    def touched(self) -> bool:
        """Whether oil or parts were moved at all."""
        return bool(self.replaced) or self.removed_m3 > 0.0 or self.added_m3 > 0.0

    def has_new(self, component: str) -> bool:
        """Whether a part of this name was replaced."""
        return any(component in part.component.lower() for part in self.replaced)
