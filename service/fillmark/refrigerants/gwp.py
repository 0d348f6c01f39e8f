"""Global warming potentials over 100 years, by edition: reports and laws differ, and so does a sum in CO2.

Every figure says where it is from and how far it was checked: `read` in that source, or from `memory`. A blend is the
sum of its components by mass (Regulation (EU) No 517/2014, Annex IV, from memory); where an edition lacks a component,
the blend has no figure in it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

from fillmark.refrigerants.composition import MASS_FRACTIONS
from fillmark.refrigerants.names import look_up


class Checked(StrEnum):
    """How far a figure was checked."""

    READ = "read"
    MEMORY = "memory"


class Edition(StrEnum):
    """A set of figures, by the name under which it is asked for."""

    AR4 = "AR4"
    EU_2024 = "EU-2024"
    AR5 = "AR5"
    AR6 = "AR6"

    @property
    def full_name(self) -> str:
        """What the set is."""
        return _TITLES[self]


_TITLES: Mapping[Edition, str] = {
    Edition.AR4: "Regulation (EU) No 517/2014 (AR4)",
    Edition.EU_2024: "Regulation (EU) 2024/573",
    Edition.AR5: "IPCC AR5 (2013)",
    Edition.AR6: "IPCC AR6 (2021)",
}


@dataclass(frozen=True, slots=True)
class Gwp:
    """Global warming potential over 100 years, kg CO2 per kg.

    Attributes:
        value: the figure, or its upper bound where `below` is set.
        edition: the title of the set of figures that it belongs to.
        source: where it is from.
        checked: how far it was checked.
        below: whether the source only says "less than", for it or for a component of a blend.
    """

    value: float
    edition: str
    source: str
    checked: Checked
    below: bool = False


_R, _M = Checked.READ, Checked.MEMORY
_ANNEX_I = "Annex I of Regulation (EU) No 517/2014, legislation.gov.uk"
_ANNEX_II = "Annex II of Regulation (EU) No 517/2014"
_ANNEX_I_2024 = "Annex I of the proposal COM(2022) 150, eumonitor.eu"
_ANNEX_II_2024 = "Annex II of Regulation (EU) 2024/573"
_ANNEX_VI_2024 = "Annex VI of Regulation (EU) 2024/573"
_IIF = "International Institute of Refrigeration, iifiir.org"
_TABLE_8A1 = "IPCC AR5 WG1 table 8.A.1"
_QUOTED_8A1 = "IPCC AR5 WG1 table 8.A.1, as quoted in djaodjin/djaopsp"
_QUOTED_AR6 = "International Institute of Refrigeration (2023), as given by drawdown.org, figure 1"
_UNIT = "1 by definition"

# (component, value, source, how far checked, whether only "less than" is said)
_FIGURES: Mapping[Edition, tuple[tuple[str, float, str, Checked, bool], ...]] = {
    Edition.AR4: (
        ("R-134a", 1430.0, _ANNEX_I, _R, False),
        ("R-32", 675.0, _ANNEX_I, _R, False),
        ("R-152a", 124.0, _ANNEX_I, _R, False),
        ("R-125", 3500.0, _ANNEX_I, _R, False),
        ("R-143a", 4470.0, _ANNEX_I, _R, False),
        ("R-1234yf", 4.0, _IIF, _R, False),
        ("R-1234ze(E)", 7.0, _ANNEX_II, _M, False),
        ("R-744", 1.0, _UNIT, _R, False),
        ("R-290", 3.0, "Annex IV of Regulation (EU) No 517/2014", _M, False),
    ),
    Edition.EU_2024: (
        ("R-134a", 1430.0, _ANNEX_I_2024, _R, False),
        ("R-32", 675.0, _ANNEX_I_2024, _R, False),
        ("R-152a", 124.0, _ANNEX_I_2024, _R, False),
        ("R-125", 3500.0, _ANNEX_I_2024, _R, False),
        ("R-143a", 4470.0, _ANNEX_I_2024, _R, False),
        ("R-1234yf", 0.501, _ANNEX_II_2024, _M, False),
        ("R-1234ze(E)", 1.37, _ANNEX_II_2024, _M, False),
        ("R-744", 1.0, _UNIT, _R, False),
        ("R-290", 0.02, _ANNEX_VI_2024, _M, False),
    ),
    Edition.AR5: (
        ("R-134a", 1300.0, _TABLE_8A1, _M, False),
        ("R-32", 677.0, _QUOTED_8A1, _R, False),
        ("R-152a", 138.0, _QUOTED_8A1, _R, False),
        ("R-125", 3170.0, _TABLE_8A1, _M, False),
        ("R-143a", 4800.0, _TABLE_8A1, _M, False),
        ("R-1234yf", 1.0, _IIF, _R, True),
        ("R-1234ze(E)", 1.0, _IIF, _R, True),
        ("R-744", 1.0, _UNIT, _R, False),
    ),
    Edition.AR6: (
        ("R-134a", 1530.0, _QUOTED_AR6, _R, False),
        ("R-32", 771.0, _QUOTED_AR6, _R, False),
        ("R-152a", 164.0, "IPCC AR6, as given by bitzer.de, A-500-501", _R, False),
        ("R-125", 3740.0, _QUOTED_AR6, _R, False),
        ("R-143a", 5810.0, _QUOTED_AR6, _R, False),
        ("R-1234yf", 0.501, _QUOTED_AR6, _R, False),
        ("R-1234ze(E)", 1.37, _QUOTED_AR6, _R, False),
        ("R-744", 1.0, _UNIT, _R, False),
        ("R-290", 0.02, _QUOTED_AR6, _R, False),
    ),
}

COMPONENTS: Mapping[Edition, Mapping[str, Gwp]] = MappingProxyType(
    {
        edition: MappingProxyType(
            {
                name: Gwp(value, edition.full_name, source, checked, below)
                for name, value, source, checked, below in rows
            }
        )
        for edition, rows in _FIGURES.items()
    }
)
"""By edition, the figures of refrigerants and components of blends."""


def gwp100(name: str, edition: Edition) -> Gwp | None:
    """The figure of a refrigerant in any accepted spelling; None where the edition has none.

    Raises:
        UnknownRefrigerantError: `name` stands for no refrigerant.
    """
    listed = look_up(name)
    known = COMPONENTS[edition]
    parts = MASS_FRACTIONS.get(listed.name)
    if parts is None:
        return known.get(listed.name)
    if not parts.keys() <= known.keys():
        return None
    figures = [(share, known[component]) for component, share in parts.items()]
    return Gwp(
        value=round(sum(share * figure.value for share, figure in figures), 6),
        edition=edition.full_name,
        source="computed from the components by mass",
        checked=_R if all(figure.checked is _R for _, figure in figures) else _M,
        below=any(figure.below for _, figure in figures),
    )
