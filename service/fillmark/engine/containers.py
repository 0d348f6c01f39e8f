"""Containers: what stood on the pan, what was drawn from it, what is left in it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from fillmark.engine.events import Draw, MountContainer
from fillmark.engine.weighing.pan import Pan


@dataclass(frozen=True, slots=True)
class Container:
    """A can or cylinder. None: not known. Masses kg, variances kg².

    Attributes:
        declared_gross_kg: gross mass as the technician gave it.
        full_kg: gross mass that the scale showed when it was first opened.
        start_kg: gross mass at the beginning of the present stay on the pan; None until it is opened.
        drawn_before_kg: drawn during earlier stays.
        drawn_var: variance of what was drawn during earlier stays.
        recovers: a recovery cylinder. The pan then reads it upside down, so that what it gains counts as drawn.
    """

    id: str
    draw: Draw
    refrigerant: str | None = None
    net_kg: float | None = None
    declared_gross_kg: float | None = None
    tare_kg: float | None = None
    heel_kg: float = 0.0
    recovers: bool = False
    water_capacity_m3: float | None = None
    full_kg: float | None = None
    start_kg: float | None = None
    start_var: float = 0.0
    drawn_before_kg: float = 0.0
    drawn_var: float = 0.0

    @classmethod
    def mounted(cls, event: MountContainer, before: Container | None) -> Container:
        """A container put on the pan; `before` is what is known of it from an earlier stay."""
        if before is not None:
            return replace(
                before,
                draw=event.draw,
                refrigerant=event.refrigerant or before.refrigerant,
                tare_kg=event.tare_kg if before.tare_kg is None else before.tare_kg,
                heel_kg=event.heel_kg or before.heel_kg,
                start_kg=None,
                start_var=0.0,
            )
        net = event.net_kg
        if net is None and event.gross_kg is not None and event.tare_kg is not None:
            net = event.gross_kg - event.tare_kg
        return cls(
            id=event.container,
            draw=event.draw,
            refrigerant=event.refrigerant,
            net_kg=net,
            declared_gross_kg=event.gross_kg,
            tare_kg=event.tare_kg,
            heel_kg=event.heel_kg,
            recovers=event.recovers,
            water_capacity_m3=event.water_capacity_m3,
        )

    def opened(self, pan: Pan, doubt_kg: float) -> Container:
        """The container once its gross mass has been learnt, with that doubt besides, and refrigerant may leave."""
        start = pan.mass_kg if pan.rest.left_from_kg is None else pan.rest.left_from_kg
        gross = -start if self.recovers else start
        full = gross if self.full_kg is None else self.full_kg
        var = pan.mass_u_kg**2 + doubt_kg * doubt_kg
        return replace(self, full_kg=full, start_kg=start, start_var=var)

    def taken_off(self, pan: Pan) -> Container:
        """The container once it has left the pan."""
        drawn, var = self.drawn(pan)
        return replace(self, drawn_before_kg=drawn, drawn_var=var, start_kg=None, start_var=0.0)

    def drawn(self, pan: Pan | None) -> tuple[float, float]:
        """Mass drawn so far and its variance. `pan` is the pan it stands on, or None."""
        if pan is None or self.start_kg is None:
            return self.drawn_before_kg, self.drawn_var
        return (
            self.drawn_before_kg + self.start_kg - pan.load_kg,
            self.drawn_var + self.start_var + pan.mass_u_kg**2,
        )

    def left_kg(self, pan: Pan | None) -> float | None:
        """What is left, the heel included; None where neither net nor tare is known."""
        if self.recovers:
            return None
        drawn, _ = self.drawn(pan)
        if self.net_kg is not None:
            return self.net_kg - drawn
        if self.tare_kg is not None and self.full_kg is not None:
            return self.full_kg - self.tare_kg - drawn
        return None

    def drawable_kg(self, pan: Pan | None) -> float | None:
        """What can still be drawn; None: unknown."""
        left = self.left_kg(pan)
        return None if left is None else max(left - self.heel_kg, 0.0)


def u_of(var: float) -> float:
    """Standard uncertainty of a variance that rounding may have left a hair below zero."""
    return math.sqrt(max(var, 0.0))
