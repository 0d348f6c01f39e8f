"""What happens to containers outside of jobs, as JSON: bought, used, filled, weighed, given back.

What a job draws from a container or takes into it is not entered here: it follows from the job. Quantities are written
as in the technician's actions. `on` is the day it happened, where that is not the day it is entered.
"""

from __future__ import annotations

from datetime import date
from typing import Annotated, Literal, NoReturn, Self, get_args

from pydantic import BeforeValidator, Field, TypeAdapter, model_validator

from fillmark.wire.models import FieldError, Line, Model, Name, Reason, either
from fillmark.wire.quantities import MassKg


def _read_day(value: object) -> object:
    try:
        return date.fromisoformat(value) if isinstance(value, str) and len(value) == 10 else _no_day()
    except ValueError:
        return _no_day()


def _no_day() -> NoReturn:
    raise ValueError('it is no day; write it as "2026-03-01"')


Day = Annotated[date, BeforeValidator(_read_day)]


class Purchase(Model):
    """A container comes into the stock. `net` is what is in it: nothing, for an empty recovery cylinder."""

    type: Literal["purchase"]
    container: Name
    net_kg: MassKg = either("net", "kg")
    refrigerant: Name | None = None
    use: Literal["charge", "recovery"] = "charge"
    tare_kg: MassKg | None = either("tare", "kg", default=None)
    origin: Literal["virgin", "recycled", "reclaimed"] | None = None
    supplier: Line | None = None
    document: Line | None = None
    on: Day | None = None

    @model_validator(mode="after")
    def _names_what_it_holds(self) -> Self:
        if self.net_kg > 0.0 and self.refrigerant is None:
            raise FieldError("refrigerant", "it holds something, but nobody says what; name the refrigerant")
        return self


class Use(Model):
    """Refrigerant was drawn from a container outside of any job."""

    type: Literal["use"]
    container: Name
    mass_kg: MassKg = either("mass", "kg", gt=0.0)
    reason: Reason
    on: Day | None = None


class Recovery(Model):
    """Refrigerant was taken into a container outside of any job."""

    type: Literal["recovery"]
    container: Name
    mass_kg: MassKg = either("mass", "kg", gt=0.0)
    reason: Reason
    on: Day | None = None


class Weighing(Model):
    """A container was weighed: from now on it holds gross less tare. What that differs by is booked as a difference."""

    type: Literal["weighing"]
    container: Name
    gross_kg: MassKg = either("gross", "kg")
    tare_kg: MassKg | None = either("tare", "kg", default=None)


class Return(Model):
    """A container leaves the stock, with all that is left in it or with `mass`, as weighed."""

    type: Literal["return"]
    container: Name
    mass_kg: MassKg | None = either("mass", "kg", default=None)
    to: Line | None = None
    document: Line | None = None


class Cancel(Model):
    """An earlier entry was a mistake: it counts no more, and stays in the log. `entry` is its position."""

    type: Literal["cancel"]
    entry: Annotated[int, Field(strict=True)]
    reason: Reason


StockAction = Annotated[Purchase | Use | Recovery | Weighing | Return | Cancel, Field(discriminator="type")]

STOCK_ACTION: TypeAdapter[StockAction] = TypeAdapter(StockAction)

STOCK_TYPES: tuple[str, ...] = tuple(
    name for model in get_args(get_args(StockAction)[0]) for name in get_args(model.model_fields["type"].annotation)
)
"""All types of entry."""
