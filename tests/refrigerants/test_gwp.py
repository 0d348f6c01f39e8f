"""Global warming potentials against what others have printed, edition by edition."""

from __future__ import annotations

import pytest

from fillmark.refrigerants.composition import MASS_FRACTIONS
from fillmark.refrigerants.facade import UnknownRefrigerantError, names
from fillmark.refrigerants.gwp import COMPONENTS, Checked, Edition, gwp100

# AR4. Pure ones: Regulation (EU) No 517/2014, Annex I (read, legislation.gov.uk). R-410A: US EPA, help on greenhouse
# gas reporting, answer A287: 20 t are 41,750 t of CO2 (read). R-404A: shecco fact sheet 2 (2021), read. The others as
# the trade prints them, in whole numbers (from memory).
AR4 = {
    "R-134a": 1430.0,
    "R-32": 675.0,
    "R-152a": 124.0,
    "R-410A": 41_750.0 / 20.0,
    "R-404A": 3922.0,
    "R-407C": 1774.0,
    "R-507A": 3985.0,
    "R-513A": 631.0,
    "R-450A": 605.0,
    "R-452A": 2140.0,
    "R-454B": 466.0,
    "R-454C": 148.0,
}
# AR5, as the trade prints them (from memory; whole numbers).
AR5 = {"R-134a": 1300.0, "R-407C": 1624.0, "R-410A": 1924.0, "R-404A": 3943.0, "R-513A": 573.0}
# AR6. The first eight: drawdown.org, "Deploy alternative refrigerants", figure 1 (read). The last three: shecco fact
# sheet 2 (2021), read.
AR6 = {
    "R-134a": 1530.0,
    "R-32": 771.0,
    "R-1234yf": 0.501,
    "R-404A": 4728.0,
    "R-407C": 1908.0,
    "R-410A": 2256.0,
    "R-452A": 2292.0,
    "R-513A": 673.0,
    "R-454B": 531.0,
    "R-454C": 166.0,
    "R-450A": 643.0,
}
PRINTED = [
    (edition, name, printed)
    for edition, table in ((Edition.AR4, AR4), (Edition.AR5, AR5), (Edition.AR6, AR6))
    for name, printed in table.items()
]


@pytest.mark.parametrize(("edition", "name", "printed"), PRINTED)
def test_a_figure_is_the_printed_one_to_its_last_digit(edition: Edition, name: str, printed: float) -> None:
    found = gwp100(name, edition)
    assert found is not None
    assert found.value == pytest.approx(printed, abs=0.6 if printed > 10.0 else 1e-3)
    assert found.edition == edition.full_name


def test_the_new_regulation_has_the_old_figures_of_hydrofluorocarbons() -> None:
    # COM(2022) 150, Annex I (read, eumonitor.eu): GWP columns of HFC-32, -125, -134a, -143a, -152a.
    for name, printed in {"R-32": 675, "R-125": 3500, "R-134a": 1430, "R-143a": 4470, "R-152a": 124}.items():
        assert COMPONENTS[Edition.EU_2024][name].value == printed


def test_mass_fractions_of_every_blend_add_up_to_one() -> None:
    for name, parts in MASS_FRACTIONS.items():
        assert sum(parts.values()) == pytest.approx(1.0, abs=1e-12), name


def test_a_blend_is_as_well_checked_as_its_worst_component() -> None:
    from_memory = {
        name
        for name in MASS_FRACTIONS
        if (found := gwp100(name, Edition.AR4)) is not None and found.checked is Checked.MEMORY
    }
    assert from_memory == {"R-450A"}  # R-1234ze(E) is from memory


def test_less_than_one_is_not_shown_as_one_and_marks_its_blends() -> None:
    # IPCC AR5 says less than 1 of R-1234yf and R-1234ze(E) (read, iifiir.org).
    bounds = {(str(edition), name) for edition in Edition for name in names()
              if (found := gwp100(name, edition)) is not None and found.below}  # fmt: skip
    with_olefin = {name for name, parts in MASS_FRACTIONS.items() if parts.keys() & {"R-1234yf", "R-1234ze(E)"}}
    assert bounds == {("AR5", name) for name in {"R-1234yf", *with_olefin}}


def test_what_an_edition_lacks_is_not_known() -> None:
    assert gwp100("R-290", Edition.AR5) is None
    assert all(gwp100(name, Edition.AR4) is not None for name in names())


def test_a_spelling_is_resolved_and_an_unknown_one_refused() -> None:
    assert gwp100("r410a", Edition.AR6) == gwp100("R-410A", Edition.AR6)
    with pytest.raises(UnknownRefrigerantError):
        gwp100("R-12", Edition.AR4)
