"""The way to a refrigerant's properties. Importing this does not import CoolProp; the first property does."""

from __future__ import annotations

from functools import cache

from fillmark.refrigerants.base import RefrigerantModel
from fillmark.refrigerants.blend import BlendRefrigerant
from fillmark.refrigerants.coolprop import PINNED_VERSION, WrongLibraryError, coolprop_version
from fillmark.refrigerants.names import TABLE, Listed, UnknownRefrigerantError, look_up
from fillmark.refrigerants.protocol import OutOfRangeError, Refrigerant
from fillmark.refrigerants.pure import PureRefrigerant

__all__ = [
    "PINNED_VERSION",
    "OutOfRangeError",
    "Refrigerant",
    "RefrigerantModel",
    "UnknownRefrigerantError",
    "WrongLibraryError",
    "coolprop_version",
    "get",
    "names",
]


def names() -> tuple[str, ...]:
    """The designations of all known refrigerants."""
    return tuple(listed.name for listed in TABLE)


def get(name: str) -> RefrigerantModel:
    """The refrigerant that `name` stands for, always the same object.

    Trade spellings are accepted: "R-134a", "r134a", "HFC-134a", "CO2", "propane".

    Raises:
        UnknownRefrigerantError: `name` stands for none. The sentence names what is accepted.
    """
    return _model(look_up(name))


@cache
def _model(listed: Listed) -> RefrigerantModel:
    return BlendRefrigerant(listed) if listed.blend else PureRefrigerant(listed)
