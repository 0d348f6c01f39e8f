"""Simpler methods to be tried beside a weigher.

A Python file names makers of such methods in a mapping METHODS. Each gets the indications and the actions of the same
charge, in order of arrival.
"""

from __future__ import annotations

import importlib.util
import json
import sys
from collections.abc import Callable, Mapping, Sequence
from typing import Protocol

from fillmark.wire.senml import Record


class Method(Protocol):
    """An estimator of the mass that has left the containers."""

    @property
    def dispensed_kg(self) -> float:
        """Mass that has left all containers so far, kg."""

    def scale(self, time_s: float, indication_kg: float) -> None:
        """One indication."""

    def mounted(self) -> None:
        """A container was put on the pan."""

    def unmounted(self) -> None:
        """It was taken off."""

    def valve(self, name: str, *, is_open: bool) -> None:
        """A valve was turned."""


MethodMaker = Callable[[float], Method]
"""Makes a method for a scale whose step is so many kg."""


def load_methods(path: str) -> Mapping[str, MethodMaker]:
    """The mapping METHODS of a Python file; nothing for no file.

    Raises:
        OSError: the file cannot be read.
        AttributeError: it has no METHODS.
    """
    if not path:
        return {}
    name = f"fillmark_sim_methods_{abs(hash(path))}"
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, path)
        if spec is None or spec.loader is None:
            raise OSError(f"{path} is no Python file")
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
        sys.modules[name] = module
    methods: Mapping[str, MethodMaker] = sys.modules[name].METHODS
    return methods


def feed(method: Method, records: Sequence[Record]) -> None:
    """Hand one pack to a method."""
    for record in records:
        if record.name.endswith("scale/mass") and record.value is not None:
            method.scale(record.time_s, record.value)
        elif record.name.endswith("/action") and record.text is not None:
            action = json.loads(record.text)
            if action["type"] == "valve":
                method.valve(action["valve"], is_open=action["open"])
            elif action["type"] == "container.mount":
                method.mounted()
            elif action["type"] == "container.unmount":
                method.unmounted()
