"""Safety class, global warming potential and cautions. CoolProp's metadata on these are out of date and not used.

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
from fillmark.refrigerants.composition import MASS_FRACTIONS
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


class Checked(StrEnum):
    """How far a figure was checked."""

    READ = "read"
    MEMORY = "memory"


@dataclass(frozen=True, slots=True)
class Gwp:
    """Global warming potential over 100 years, kg CO2 per kg.

    Attributes:
        value: the figure, or its upper bound where `below` is set.
        edition: which set of figures: they differ between assessment reports and laws.
        source: where it is from.
        checked: how far it was checked.
        below: whether the source only says "less than `value`".
    """

    value: float
    edition: str
    source: str
    checked: Checked
    below: bool = False


@dataclass(frozen=True, slots=True)
class Safety:
    """What is known of one refrigerant. `gwp100` may be empty: then it is not known."""

    name: str
    safety_class: SafetyClass
    class_source: str
    class_checked: Checked
    gwp100: tuple[Gwp, ...]
    cautions: tuple[str, ...]


_AR4 = "Regulation (EU) No 517/2014 (AR4)"
_EU_2024 = "Regulation (EU) 2024/573"
_AR5 = "IPCC AR5 (2013)"

_ANNEX_I = "Annex I of Regulation (EU) No 517/2014, legislation.gov.uk"
_ANNEX_I_2024 = "Annex I of the proposal COM(2022) 150, eumonitor.eu"
_IIF = "International Institute of Refrigeration, iifiir.org"

# By refrigerant or component. The AR4 row is what blends are computed from.
_AR4_BY_COMPONENT: Mapping[str, Gwp] = MappingProxyType(
    {
        "R-134a": Gwp(1430.0, _AR4, _ANNEX_I, Checked.READ),
        "R-32": Gwp(675.0, _AR4, _ANNEX_I, Checked.READ),
        "R-152a": Gwp(124.0, _AR4, _ANNEX_I, Checked.READ),
        "R-125": Gwp(3500.0, _AR4, _ANNEX_I, Checked.READ),
        "R-143a": Gwp(4470.0, _AR4, "Annex I of Regulation (EU) No 517/2014", Checked.MEMORY),
        "R-1234yf": Gwp(4.0, _AR4, _IIF, Checked.READ),
        "R-1234ze(E)": Gwp(7.0, _AR4, "Annex II of Regulation (EU) No 517/2014", Checked.MEMORY),
        "R-744": Gwp(1.0, _AR4, "IPCC AR4 (2007)", Checked.MEMORY),
        "R-290": Gwp(3.0, _AR4, "Annex IV of Regulation (EU) No 517/2014", Checked.MEMORY),
    }
)

_LATER: Mapping[str, tuple[Gwp, ...]] = MappingProxyType(
    {
        "R-134a": (
            Gwp(1430.0, _EU_2024, _ANNEX_I_2024, Checked.READ),
            Gwp(1300.0, _AR5, "IPCC AR5 WG1", Checked.MEMORY),
        ),
        "R-32": (
            Gwp(675.0, _EU_2024, _ANNEX_I_2024, Checked.READ),
            Gwp(677.0, _AR5, "IPCC AR5 WG1", Checked.MEMORY),
        ),
        "R-152a": (
            Gwp(124.0, _EU_2024, _ANNEX_I_2024, Checked.READ),
            Gwp(138.0, _AR5, "IPCC AR5 WG1", Checked.MEMORY),
        ),
        "R-1234yf": (
            Gwp(0.501, _EU_2024, "Annex II of Regulation (EU) 2024/573", Checked.MEMORY),
            Gwp(1.0, _AR5, _IIF, Checked.READ, below=True),
        ),
        "R-744": (Gwp(1.0, _AR5, "IPCC AR5 WG1", Checked.MEMORY),),
        "R-290": (Gwp(3.0, _AR5, "IPCC AR5 WG1", Checked.MEMORY),),
    }
)

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
        gwp100=_gwps(listed.name),
        cautions=(
            *EVERY,
            *BY_CLASS[safety_class.value],
            *BY_REFRIGERANT.get(listed.name, ()),
            *(() if listed.name in _NOT_FLUORINATED else FLUORINATED),
            *(ZEOTROPIC if listed.zeotropic else ()),
        ),
    )


def _gwps(name: str) -> tuple[Gwp, ...]:
    parts = MASS_FRACTIONS.get(name)
    if parts is None:
        return (_AR4_BY_COMPONENT[name], *_LATER.get(name, ()))
    figures = [_AR4_BY_COMPONENT[component] for component in parts]
    return (
        Gwp(
            value=sum(share * figure.value for share, figure in zip(parts.values(), figures, strict=True)),
            edition=_AR4,
            source="computed from the components by mass",
            checked=Checked.READ if all(f.checked is Checked.READ for f in figures) else Checked.MEMORY,
        ),
    )
