"""Lines by a declared pattern. The lines are of three styles that scales commonly write; common practice, no source."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillmark_agent.edge.outcome import Fault, FaultKind, Measurement
from fillmark_agent.scales.indication import Indication
from fillmark_agent.scales.line_pattern import LinePattern, PatternError, pattern

HEADED = LinePattern(
    reading=pattern(r"(?P<stable>ST|US),(?:GS|NT),(?P<sign>[+-])(?P<value>[ 0-9]{5}\.[0-9]{3})(?P<unit>[ a-zA-Z]{2})"),
    stable=frozenset({"ST"}),
    overload=pattern(r"OL.*"),
    fault=pattern(r"ERR[0-9]+"),
    ignore=pattern(r"READY|[*]+"),
)
BARE = LinePattern(reading=pattern(r"(?P<value>[+-]? *[0-9]+[.,][0-9]+)"), unit="kg")
TRAILING = LinePattern(
    reading=pattern(r"(?P<sign>-?) *(?P<value>\S+) (?P<unit>\S+) ?(?P<stable>\??)"),
    units={"gram": "g", "#": "lb"},
    stable=frozenset({""}),
)


def seen(found: Indication | None) -> Measurement | FaultKind | None:
    return None if found is None else found.mass.kind if isinstance(found.mass, Fault) else found.mass


@pytest.mark.parametrize(
    ("lines", "line", "value", "unit", "stable"),
    [
        (HEADED, "ST,GS,+   12.345kg", 12.345, "kg", True),
        (HEADED, "US,NT,-    0.015 g", -0.015, "g", False),
        (HEADED, "ST,GS,+   27.216LB", 27.216, "lb", True),
        (BARE, "+ 1,214", 1.214, "kg", None),
        (BARE, "-0.010", -0.010, "kg", None),
        (TRAILING, "1214 gram", 1214.0, "g", True),
        (TRAILING, "- 2.5 # ?", -2.5, "lb", False),
    ],
)
def test_a_mass(lines: LinePattern, line: str, value: float, unit: str, stable: bool | None) -> None:
    assert lines.decode(line) == Indication(Measurement(value, unit), stable)


@pytest.mark.parametrize(
    ("lines", "line", "kind"),
    [
        (HEADED, "OL,GS,+ 999.999kg", FaultKind.OVERLOAD),
        (HEADED, "ERR04", FaultKind.DEVICE_FAULT),
        (HEADED, "READY", None),
        (HEADED, "T,GS,+   12.345kg", FaultKind.UNREADABLE),
        (HEADED, "ST,GS,+   12.34", FaultKind.UNREADABLE),
        (HEADED, "ST,GS,+   12.345kg 00", FaultKind.UNREADABLE),
        (HEADED, "ST,GS,+   12.345ct", FaultKind.IMPOSSIBLE_UNIT),
        (HEADED, "ST,GS,+   12.345  ", FaultKind.IMPOSSIBLE_UNIT),
        (HEADED, "ST,GS,+  1 2.345kg", FaultKind.NOT_A_NUMBER),
        (TRAILING, "NaN g", FaultKind.NOT_A_NUMBER),
        (TRAILING, "inf g", FaultKind.NOT_A_NUMBER),
        (TRAILING, "1e3 g", FaultKind.NOT_A_NUMBER),
        (TRAILING, "1_000 g", FaultKind.NOT_A_NUMBER),
        (TRAILING, "1,234.5 g", FaultKind.NOT_A_NUMBER),
        (TRAILING, "--5 g", FaultKind.NOT_A_NUMBER),
        (TRAILING, "٣ g", FaultKind.NOT_A_NUMBER),
        (TRAILING, "9999999999999999 g", FaultKind.NOT_A_NUMBER),
        (TRAILING, "5 gr", FaultKind.IMPOSSIBLE_UNIT),
        (TRAILING, "5 Pa", FaultKind.IMPOSSIBLE_UNIT),
    ],
)
def test_no_mass(lines: LinePattern, line: str, kind: FaultKind | None) -> None:
    assert seen(lines.decode(line)) == kind


def test_zero_has_no_minus() -> None:
    found = seen(BARE.decode("-0.000"))
    assert str(found) == str(Measurement(0.0, "kg"))


@pytest.mark.parametrize(
    ("text", "problem"),
    [("(?P<value>[0-9]+", "no regular expression"), ("(?P<value>1)(?P<weight>2)", "'weight' means nothing")],
)
def test_a_pattern_that_cannot_be_used(text: str, problem: str) -> None:
    with pytest.raises(PatternError, match=problem):
        pattern(text)


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        ({"reading": pattern("x"), "unit": "g"}, "no group"),
        ({"unit": None}, "no unit"),
        ({"stable": frozenset({"S"})}, "go together"),
        ({"reading": pattern("(?P<value>1)(?P<stable>S)")}, "go together"),
        ({"unit": "stone"}, "'stone' is no unit"),
        ({"units": {"#": "pound"}}, "'pound' is no unit"),
    ],
)
def test_a_declaration_without_meaning_is_refused(change: dict[str, object], problem: str) -> None:
    with pytest.raises(PatternError, match=problem):
        replace(BARE, **change)  # type: ignore[arg-type]  # wrong declarations are the matter


@settings(max_examples=400, deadline=None)
@given(st.one_of(st.text(max_size=40), st.from_regex(r"[ST,GUN+ -]{0,6}[-+0-9.,eE ]{0,12}[a-zA-Z]{0,4}\??")))
def test_no_exception_and_no_mass_without_a_unit(line: str) -> None:
    for lines in (HEADED, BARE, TRAILING):
        found = lines.decode(line)
        if found is not None and isinstance(found.mass, Measurement):
            assert found.mass.unit in {"mg", "g", "kg", "t", "oz", "lb"}
            assert isinstance(found.mass.value, float)
            assert abs(found.mass.value) < 1e16
