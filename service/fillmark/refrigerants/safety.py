"""Safety class and cautions. CoolProp's metadata on these are out of date and not used.

Every figure says where it is from and how far it was checked: `read` in that source, or from `memory`.
The cautions add to the container's label, the vehicle maker's instructions, local law and the trained
technician's judgement. They replace none of these.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from fillmark.refrigerants.cautions import BY_CLASS, BY_REFRIGERANT, EVERY, FLUORINATED, ZEOTROPIC
from fillmark.refrigerants.gwp import Checked, Edition, Gwp, gwp100
from fillmark.refrigerants.names import look_up


class SafetyClass(StrEnum):
    """Safety classes of ASHRAE 34 and ISO 817 that occur here: A is lower toxicity, the number flammability."""

    A1 = "A1"
    A2L = "A2L"
    A2 = "A2"
    A3 = "A3"

    @property
    def flammable(self) -> bool:
        """Whether the class is one of the flammable ones."""
        return self is not SafetyClass.A1


@dataclass(frozen=True, slots=True)
class Safety:
    """What is known of one refrigerant. `gwp100` may be empty: then it is not known."""

    name: str
    safety_class: SafetyClass
    class_source: str
    class_checked: Checked
    gwp100: tuple[Gwp, ...]
    cautions: tuple[str, ...]


_EXAM = "ASHRAE 34, as given by open-exam-prep.com"
_STANDARD = "ASHRAE 34 / ISO 817"

_CLASSES: Mapping[str, tuple[SafetyClass, str, Checked]] = MappingProxyType(
    {
        "R-134a": (SafetyClass.A1, _EXAM, Checked.READ),
        "R-1234yf": (SafetyClass.A2L, _EXAM, Checked.READ),
        "R-744": (SafetyClass.A1, _STANDARD, Checked.MEMORY),
        "R-152a": (SafetyClass.A2, _STANDARD, Checked.MEMORY),
        "R-290": (SafetyClass.A3, _EXAM, Checked.READ),
        "R-32": (SafetyClass.A2L, _EXAM, Checked.READ),
        "R-407C": (SafetyClass.A1, _STANDARD, Checked.MEMORY),
        "R-410A": (SafetyClass.A1, _STANDARD, Checked.MEMORY),
        "R-404A": (SafetyClass.A1, _STANDARD, Checked.MEMORY),
        "R-507A": (SafetyClass.A1, _STANDARD, Checked.MEMORY),
        "R-513A": (SafetyClass.A1, _STANDARD, Checked.MEMORY),
        "R-450A": (SafetyClass.A1, _STANDARD, Checked.MEMORY),
        "R-452A": (SafetyClass.A1, _STANDARD, Checked.MEMORY),
        "R-454B": (SafetyClass.A2L, _STANDARD, Checked.MEMORY),
        "R-454C": (SafetyClass.A2L, _STANDARD, Checked.MEMORY),
    }
)

_NOT_FLUORINATED = frozenset({"R-744", "R-290"})


def safety(name: str) -> Safety:
    """Safety class, GWP and cautions of a refrigerant in any accepted spelling.

    Raises:
        UnknownRefrigerantError: `name` stands for no refrigerant.
    """
    listed = look_up(name)
    safety_class, source, checked = _CLASSES[listed.name]
    return Safety(
        name=listed.name,
        safety_class=safety_class,
        class_source=source,
        class_checked=checked,
        gwp100=tuple(found for edition in Edition if (found := gwp100(listed.name, edition)) is not None),
        cautions=(
            *EVERY,
            *BY_CLASS[safety_class.value],
            *BY_REFRIGERANT.get(listed.name, ()),
            *(() if listed.name in _NOT_FLUORINATED else FLUORINATED),
            *(ZEOTROPIC if listed.zeotropic else ()),
        ),
    )
