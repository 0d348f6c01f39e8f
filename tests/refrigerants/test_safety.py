from __future__ import annotations

import re

import pytest

from fillmark.refrigerants.facade import UnknownRefrigerantError, names
from fillmark.refrigerants.gwp import Checked
from fillmark.refrigerants.safety import SafetyClass, safety

# ASHRAE 34 / ISO 817. R-134a, R-1234yf, R-32 and R-290 were read in a study guide, the others are from memory.
CLASSES = {
    "R-134a": "A1",
    "R-1234yf": "A2L",
    "R-744": "A1",
    "R-152a": "A2",
    "R-290": "A3",
    "R-32": "A2L",
    "R-407C": "A1",
    "R-410A": "A1",
    "R-404A": "A1",
    "R-507A": "A1",
    "R-513A": "A1",
    "R-450A": "A1",
    "R-452A": "A1",
    "R-454B": "A2L",
    "R-454C": "A2L",
}


@pytest.mark.parametrize("name", names())
def test_every_refrigerant_has_an_entry(name: str) -> None:
    entry = safety(name)
    assert entry.name == name
    assert entry.safety_class == CLASSES[name]
    assert entry.class_source
    assert len(entry.cautions) == len(set(entry.cautions)) >= 5
    assert entry.gwp100
    assert all(gwp.source and gwp.edition and gwp.value > 0.0 for gwp in entry.gwp100)


def test_a_spelling_is_resolved_and_an_unknown_one_refused() -> None:
    assert safety("hfo 1234yf") == safety("R-1234yf")
    with pytest.raises(UnknownRefrigerantError):
        safety("R-12")


def test_only_classes_that_were_read_say_so() -> None:
    read = {name for name in names() if safety(name).class_checked is Checked.READ}
    assert read == {"R-134a", "R-1234yf", "R-32", "R-290"}


def said(name: str) -> str:
    return " ".join(safety(name).cautions).lower()


@pytest.mark.parametrize("name", names())
def test_the_dangers_of_every_refrigerant_are_named(name: str) -> None:
    text = said(name)
    for danger in ("freeze skin", "displaces air", "under pressure", "goggles", "label", "local law", "recover"):
        assert danger in text


@pytest.mark.parametrize("name", names())
def test_flammability_is_named_where_it_is_and_not_denied_where_it_is(name: str) -> None:
    text, safety_class = said(name), safety(name).safety_class
    assert safety_class.flammable == (safety_class is not SafetyClass.A1)
    assert ("sparks" in text) == safety_class.flammable
    assert ("not flammable" in text) == (not safety_class.flammable)
    assert (f"class {safety_class.value.lower()}:" in text) == safety_class.flammable


def test_high_pressure_refrigerants_are_named() -> None:
    assert {name for name in names() if "high pressure" in said(name)} == {"R-744", "R-410A", "R-32", "R-454B"}
    assert "very high pressure" in said("R-744")


@pytest.mark.parametrize("name", names())
def test_blends_that_separate_are_drawn_as_liquid(name: str) -> None:
    assert ("as liquid" in said(name)) == name.startswith("R-4")


@pytest.mark.parametrize("name", names())
def test_nothing_suggests_letting_refrigerant_out(name: str) -> None:
    for caution in safety(name).cautions:
        assert not re.search(r"\b(vent|venting|vented|discharge|release|bleed|blow off|let it out)\b", caution.lower())
    assert "none is let out into the air on purpose" in said(name)
