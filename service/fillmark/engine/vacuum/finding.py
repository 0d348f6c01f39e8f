"""What every step says at its end: what was measured, what that proves, what it does not prove, what to do next."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Quantity:
    """A number and its standard uncertainty, both in the unit that the field's name carries."""

    value: float
    u: float

    def scaled(self, factor: float) -> Quantity:
        """The same quantity in another unit."""
        return Quantity(self.value * factor, self.u * abs(factor))


@dataclass(frozen=True, slots=True)
class Finding:
    """Short sentences for the technician."""

    measured: tuple[str, ...] = ()
    proves: tuple[str, ...] = ()
    does_not_prove: tuple[str, ...] = ()
    next: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


NOTHING_SAID = Finding()
