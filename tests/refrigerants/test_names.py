from __future__ import annotations

import pytest

from fillmark.refrigerants.facade import UnknownRefrigerantError, get, names

EXPECTED = [
    "R-134a",
    "R-1234yf",
    "R-744",
    "R-152a",
    "R-290",
    "R-32",
    "R-407C",
    "R-410A",
    "R-404A",
    "R-507A",
    "R-513A",
    "R-450A",
    "R-452A",
    "R-454B",
    "R-454C",
]


def test_the_covered_refrigerants() -> None:
    assert set(names()) == set(EXPECTED)
    assert len(names()) == len(EXPECTED)


@pytest.mark.parametrize("name", names())
def test_a_designation_comes_back(name: str) -> None:
    assert get(name).name == name


@pytest.mark.parametrize("name", names())
def test_case_blanks_and_hyphens_do_not_matter(name: str) -> None:
    bare = name.replace("-", "")
    spellings = (name.lower(), name.upper(), bare, bare.lower(), name.replace("-", " "), f"  {name} ", bare[1:])
    assert {get(spelling).name for spelling in spellings} == {name}


# Prefixes and names of the trade: common practice, no source.
@pytest.mark.parametrize(
    ("spelling", "name"),
    [
        ("HFC-134a", "R-134a"),
        ("HFC 134A", "R-134a"),
        ("R 134a", "R-134a"),
        ("HFO-1234yf", "R-1234yf"),
        ("CO2", "R-744"),
        ("R744", "R-744"),
        ("carbon dioxide", "R-744"),
        ("propane", "R-290"),
        ("HC-290", "R-290"),
        ("r407c", "R-407C"),
        ("R507", "R-507A"),
        ("hfc-32", "R-32"),
    ],
)
def test_trade_spellings(spelling: str, name: str) -> None:
    assert get(spelling) is get(name)


@pytest.mark.parametrize("spelling", ["", " ", "R-", "R-12", "R-22", "R-134", "R-407A", "R-1234ze(E)", "134", "water"])
def test_an_unknown_name_is_refused_and_the_accepted_are_named(spelling: str) -> None:
    with pytest.raises(UnknownRefrigerantError) as caught:
        get(spelling)
    assert isinstance(caught.value, ValueError)
    for name in names():
        assert name in str(caught.value)


@pytest.mark.parametrize(("spelling", "meant"), [("R-134", "R-134a"), ("R1234y", "R-1234yf"), ("propan", "R-290")])
def test_a_near_miss_is_pointed_out(spelling: str, meant: str) -> None:
    with pytest.raises(UnknownRefrigerantError, match=f"Did you mean {meant}\\?"):
        get(spelling)


def test_blends_of_the_400_series_separate_and_the_others_do_not() -> None:
    # Numbering of ASHRAE 34: 400s zeotropic, 500s azeotropic (from memory).
    assert {name for name in names() if get(name).zeotropic} == {name for name in names() if name.startswith("R-4")}
