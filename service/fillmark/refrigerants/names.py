"""The refrigerants that are known, and the spellings that are accepted for them.

Designations follow ASHRAE 34. A spelling is compared without case, blanks, hyphens, dots and underscores,
so "R-134a", "r134a", "HFC 134A" and "134a" are one refrigerant.
"""

from __future__ import annotations

import difflib
import re
from dataclasses import dataclass


class UnknownRefrigerantError(ValueError):
    """The spelling stands for no refrigerant in the table."""


@dataclass(frozen=True, slots=True)
class Listed:
    """One refrigerant of the table.

    Attributes:
        name: designation of ASHRAE 34.
        model: what CoolProp calls it. `.mix` is a predefined mixture.
        spellings: other names, without the ones that follow from the number.
        critical_temperature_k: of a blend, K, as the model gives it; None for a pure fluid, which is asked.
    """

    name: str
    model: str
    spellings: tuple[str, ...] = ()
    critical_temperature_k: float | None = None

    @property
    def blend(self) -> bool:
        """Whether it is a mixture of several refrigerants."""
        return self.model.endswith(".mix")

    @property
    def zeotropic(self) -> bool:
        """ASHRAE 34 numbers zeotropic blends in the 400s, azeotropic ones in the 500s (from memory).

        The number decides and not the size of the glide: R-410A and R-404A glide little, and the trade
        charges them as liquid all the same.
        """
        return re.match(r"R-4\d\d[A-Z]", self.name) is not None


# Critical temperatures of blends: R-407C, R-410A, R-404A and R-507A are the reducing values of Lemmon,
# Int. J. Thermophys. 24 (2003) 991. The others are the critical point of the mixture model in CoolProp 8.0.0,
# good to about 1 K. For R-452A it also has points inside the two-phase region: this is the outer one.
TABLE: tuple[Listed, ...] = (
    Listed("R-134a", "R134a", ("HFC-134a",)),
    Listed("R-1234yf", "R1234yf", ("HFO-1234yf", "HFC-1234yf")),
    Listed("R-744", "CO2", ("CO2", "carbon dioxide")),
    Listed("R-152a", "R152A", ("HFC-152a",)),
    Listed("R-290", "Propane", ("propane", "n-propane", "HC-290", "C3H8")),
    Listed("R-32", "R32", ("HFC-32",)),
    Listed("R-407C", "R407C.mix", ("HFC-407C",), 359.345),
    Listed("R-410A", "R410A.mix", ("HFC-410A",), 344.494),
    Listed("R-404A", "R404A.mix", ("HFC-404A",), 345.270),
    Listed("R-507A", "R507A.mix", ("HFC-507A", "R-507"), 343.765),
    Listed("R-513A", "R513A.mix", ("HFO-513A",), 368.561),
    Listed("R-450A", "R450A.mix", ("HFO-450A",), 378.529),
    Listed("R-452A", "R452A.mix", ("HFO-452A",), 348.249),
    Listed("R-454B", "R454B.mix", ("HFO-454B",), 351.430),
    Listed("R-454C", "R454C.mix", ("HFO-454C",), 360.793),
)


def _key(spelling: str) -> str:
    return re.sub(r"[\s\-_.‐‑–]", "", spelling).upper()


def _spellings() -> dict[str, Listed]:
    keys: dict[str, Listed] = {}
    for listed in TABLE:
        number = listed.name.removeprefix("R-")
        for spelling in (listed.name, number, *listed.spellings):
            if keys.setdefault(_key(spelling), listed) is not listed:
                raise AssertionError(f"{spelling} stands for two refrigerants")
    return keys


_BY_KEY = _spellings()


def look_up(spelling: str) -> Listed:
    """The refrigerant that `spelling` stands for.

    Raises:
        UnknownRefrigerantError: it stands for none. The sentence names the accepted designations.
    """
    key = _key(spelling)
    listed = _BY_KEY.get(key)
    if listed is not None:
        return listed
    close = difflib.get_close_matches(key, _BY_KEY, n=1, cutoff=0.75)
    hint = f" Did you mean {_BY_KEY[close[0]].name}?" if close else ""
    accepted = ", ".join(entry.name for entry in TABLE)
    raise UnknownRefrigerantError(f"Unknown refrigerant {spelling!r}.{hint} Accepted: {accepted}.")
