"""From an entry of the stock as JSON to its model; the names of refrigerants end here, without their properties."""

from __future__ import annotations

from pydantic import ValidationError

from fillmark.intake.events import IntakeError, intake_error, unknown_refrigerant
from fillmark.refrigerants.names import UnknownRefrigerantError, look_up
from fillmark.wire.stock import STOCK_ACTION, STOCK_TYPES, Purchase, StockAction

CHANNEL = "fillmark/stock"
"""The channel of the stock's entries in the log, whose value is the entry's JSON."""


def stock_action(raw: object) -> StockAction:
    """One entry.

    Raises:
        IntakeError: naming the field at fault.
    """
    try:
        model = STOCK_ACTION.validate_python(raw)
    except ValidationError as error:
        raise intake_error(error, raw, "", STOCK_TYPES) from error
    if isinstance(model, Purchase) and model.refrigerant is not None:
        try:
            return model.model_copy(update={"refrigerant": look_up(model.refrigerant).name})
        except UnknownRefrigerantError as error:
            raise unknown_refrigerant("/refrigerant", error) from error
    return model


__all__ = ["CHANNEL", "IntakeError", "stock_action"]
