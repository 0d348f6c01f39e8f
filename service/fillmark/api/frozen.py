"""State as text, and back: frozen dataclasses, enumerations, tuples and mappings of the engine and the stock.

* Decoding makes the classes in `_classes` and nothing else: no name in a text is ever imported or called.
* What is not known here is refused when it is written, and anything odd when it is read.
* Floats come back to the last bit (shortest representation, `float.__repr__`).
* What belongs to the program is named and not written: refrigerants, watches. A picture is made anew from its course.
"""

from __future__ import annotations

import dataclasses
import json
import pkgutil
from collections.abc import Callable, Iterator, Mapping
from enum import Enum
from functools import cache
from importlib import import_module
from typing import Any

from pydantic import BaseModel

from fillmark import engine
from fillmark.engine.job import Job
from fillmark.engine.picture import picture
from fillmark.engine.stages.registry import WATCHES
from fillmark.engine.stages.series_stage import Watch
from fillmark.engine.steps import Step
from fillmark.intake.stock import stock_action
from fillmark.refrigerants import facade
from fillmark.refrigerants.base import RefrigerantModel
from fillmark.stock.ledger import Booked, Holding, Ledger
from fillmark.wire.senml import Record

KIND = ""
"""Key under which an object says what it is. No field has this name."""

PLAIN = (type(None), bool, int, float, str)


class FrozenError(ValueError):
    """A value that cannot be written, or a text that no value was written to."""


def dumps(value: object) -> str:
    """Text of a value.

    Raises:
        FrozenError: it holds something that is not known here.
    """
    return json.dumps(_plain(value), ensure_ascii=False, separators=(",", ":"))


def loads(text: str | bytes) -> Any:  # noqa: ANN401 - whatever was written; the caller checks what it is
    """The value that was written to a text.

    Raises:
        FrozenError: none was.
    """
    try:
        return _frozen(json.loads(text, object_hook=_made))
    except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
        raise FrozenError(f"no state is written here: {error}") from error


def _plain(value: Any) -> object:  # noqa: ANN401 - whatever the state holds
    kind = type(value)
    if kind in PLAIN:
        return value
    if kind is tuple:
        return [_plain(one) for one in value]
    if kind is dict:
        return {KIND: "mapping", "of": [[_plain(key), _plain(one)] for key, one in value.items()]}
    if kind not in _shapes():
        return _special(value)
    name, fields = _shapes()[kind]
    said = {"of": value.value} if isinstance(value, Enum) else {each: _plain(getattr(value, each)) for each in fields}
    return {KIND: name, **said}


def _special(value: object) -> object:
    match value:
        case frozenset():
            return {KIND: "set", "of": sorted(value)}
        case RefrigerantModel():
            return {KIND: "refrigerant", "of": value.name}
        case Watch():
            return {KIND: "watch", "of": str(_steps()[value])}
        case BaseModel():
            return {KIND: "stock action", "of": value.model_dump_json(exclude_none=True)}
    raise FrozenError(f"{type(value).__qualname__} is not known here")


def _made(found: dict[str, Any]) -> object:
    kind = found.pop(KIND)
    if kind in _SPECIAL:
        return _SPECIAL[kind](found["of"])
    cls: type[Any] = _classes()[kind]
    if issubclass(cls, Enum):
        return cls(found["of"])
    fields: dict[str, Any] = {name: _frozen(value) for name, value in found.items()}
    if cls is Job:
        fields["picture"] = picture(fields["timeline"].course, fields["now_s"], fields["delay"])
    return cls(**fields)


def _frozen(value: object) -> object:
    """Lists are tuples."""
    return tuple(_frozen(one) for one in value) if type(value) is list else value


_SPECIAL: Mapping[str, Callable[[Any], object]] = {
    "mapping": lambda pairs: {_frozen(key): _frozen(value) for key, value in pairs},
    "set": frozenset,
    "refrigerant": facade.get,
    "watch": lambda step: WATCHES[Step(step)],
    "stock action": lambda text: stock_action(json.loads(text)),
}


@cache
def _steps() -> Mapping[Watch, Step]:
    return {watch: step for step, watch in WATCHES.items()}


@cache
def _classes() -> Mapping[str, type]:
    """Every dataclass and enumeration of the engine but the watches, and those of records and stock, by name."""
    found = [*(cls for cls in _engine_classes() if cls is not Watch), Record, Ledger, Holding, Booked]
    return {f"{cls.__module__.removeprefix('fillmark.')}.{cls.__qualname__}": cls for cls in found}


@cache
def _shapes() -> Mapping[type, tuple[str, tuple[str, ...]]]:
    """Name and fields of each class. An enumeration has none; a picture is made anew and not written."""
    return {cls: (name, _fields(cls)) for name, cls in _classes().items()}


def _fields(cls: type) -> tuple[str, ...]:
    if not dataclasses.is_dataclass(cls):
        return ()
    return tuple(field.name for field in dataclasses.fields(cls) if cls is not Job or field.name != "picture")


def _engine_classes() -> Iterator[type]:
    for info in pkgutil.walk_packages(engine.__path__, f"{engine.__name__}."):
        for cls in vars(import_module(info.name)).values():
            is_data = isinstance(cls, type) and (dataclasses.is_dataclass(cls) or issubclass(cls, Enum))
            if is_data and cls.__module__ == info.name:
                yield cls
