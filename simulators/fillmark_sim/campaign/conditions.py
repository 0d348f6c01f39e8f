"""The tables of classes that a campaign can draw from. A class has one name in all of them, and a seed one charge."""

from __future__ import annotations

from collections.abc import Mapping

from fillmark_sim import adversarial, disturbed
from fillmark_sim.disturbed import Alter, sample_class
from fillmark_sim.scenario import Scenario

TABLES: Mapping[str, Mapping[str, Alter]] = {
    "disturbed": disturbed.CLASSES,
    "adversarial": adversarial.CLASSES,
}

EVERY_CLASS: Mapping[str, Alter] = {name: alter for table in TABLES.values() for name, alter in table.items()}


def sample(seed: int, name: str, step_kg: float) -> Scenario:
    """The random charge of this seed, class and step of the scale (kg).

    Raises:
        UnknownClassError: no table has such a class.
    """
    return sample_class(seed, name, step_kg, EVERY_CLASS)
