"""Scenarios by name, and random ones by seed."""

from __future__ import annotations

from collections.abc import Mapping

from fillmark_sim.catalogue import DEMOS
from fillmark_sim.sampling import sample
from fillmark_sim.scenario import Scenario
from fillmark_sim.visit_catalogue import VISITS

__all__ = ["UnknownScenarioError", "charges", "get", "names", "sample", "visits"]

_BY_NAME: Mapping[str, Scenario] = {one.name: one for one in (*DEMOS, *VISITS)}


class UnknownScenarioError(KeyError):
    """No scenario of that name."""

    def __str__(self) -> str:
        return str(self.args[0])


def names() -> tuple[str, ...]:
    """Names of the demo scenarios, charges first."""
    return tuple(_BY_NAME)


def charges() -> tuple[str, ...]:
    """Names of the demo scenarios that are one charge."""
    return tuple(one.name for one in DEMOS)


def visits() -> tuple[str, ...]:
    """Names of the demo scenarios that are visits of one or more steps."""
    return tuple(one.name for one in VISITS)


def get(name: str) -> Scenario:
    """A demo scenario.

    Raises:
        UnknownScenarioError: no scenario of that name.
    """
    if name not in _BY_NAME:
        raise UnknownScenarioError(f"no scenario {name!r}; use one of {', '.join(_BY_NAME)}")
    return _BY_NAME[name]
