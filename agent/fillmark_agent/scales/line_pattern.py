"""A scale's line by a declared pattern: a regular expression with the groups value, unit, sign and stable.

* The pattern must fit the whole line. A line cut short then fits no pattern, where its columns are fixed.
* There is no mass without a unit: the pattern has a group `unit`, or the unit is declared.
* Only digits with one point or one comma are a number: never NaN, never an exponent.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from fillmark_agent.edge.outcome import FaultKind, Measurement
from fillmark_agent.scales.indication import UNITS, Indication, fault

GROUPS = frozenset({"value", "unit", "sign", "stable"})
_NUMBER = re.compile(r"([+-]?)\s*([0-9]+(?:[.,][0-9]*)?|[.,][0-9]+)")
_MOST_DIGITS = 15
_SIGNS = {"-": -1, "+": 1, "": 1}


class PatternError(ValueError):
    """The declaration of a line cannot be used."""


def pattern(text: str) -> re.Pattern[str]:
    """A regular expression for whole lines.

    Raises:
        PatternError: it is none, or has a group that means nothing.
    """
    try:
        made = re.compile(text, re.ASCII)
    except (re.error, RecursionError, OverflowError) as error:
        raise PatternError(f"this is no regular expression ({error})") from error
    strange = sorted(made.groupindex.keys() - GROUPS)
    if strange:
        raise PatternError(f"the group {strange[0]!r} means nothing; known are {', '.join(sorted(GROUPS))}")
    return made


@dataclass(frozen=True, slots=True)
class LinePattern:
    """How one scale writes a line.

    Attributes:
        reading: pattern of a line with a mass.
        unit: the unit of lines that name none, one of `UNITS`.
        units: the unit by what the scale writes for it, where that is not the unit itself.
        stable: texts of the group `stable` that mean no motion; every other text means motion.
        overload: pattern of lines that mean more than the scale can weigh.
        fault: pattern of lines that mean another fault.
        ignore: pattern of lines that mean nothing.
    """

    reading: re.Pattern[str]
    unit: str | None = None
    units: Mapping[str, str] = field(default_factory=dict)
    stable: frozenset[str] = frozenset()
    overload: re.Pattern[str] | None = None
    fault: re.Pattern[str] | None = None
    ignore: re.Pattern[str] | None = None

    def __post_init__(self) -> None:
        """Refuse a declaration by which a mass would have no unit, or a flag no meaning.

        Raises:
            PatternError: the sentence says what is missing.
        """
        groups = self.reading.groupindex
        if "value" not in groups:
            raise PatternError("the pattern has no group (?P<value>…)")
        if self.unit is None and "unit" not in groups:
            raise PatternError('no unit: give the pattern a group (?P<unit>…), or set unit = "g"')
        if ("stable" in groups) != bool(self.stable):
            raise PatternError("the group (?P<stable>…) and the key stable go together")
        for unit in (*self.units.values(), *(() if self.unit is None else (self.unit,))):
            if unit not in UNITS:
                raise PatternError(f"{unit!r} is no unit; known are {', '.join(UNITS)}")

    def decode(self, line: str) -> Indication | None:
        """What a line says; None for one that means nothing. Never raises."""
        if _fits(self.overload, line):
            return fault(FaultKind.OVERLOAD, f"more stands on the scale than it can weigh ({line!r}); take it off")
        if _fits(self.fault, line):
            return fault(FaultKind.DEVICE_FAULT, f"the scale reports a fault ({line!r}); look at its display")
        if _fits(self.ignore, line):
            return None
        found = self.reading.fullmatch(line)
        if found is None:
            return fault(FaultKind.UNREADABLE, f"the line {line!r} does not fit the pattern")
        return self._read({name: (text or "").strip() for name, text in found.groupdict().items()}, line)

    def _read(self, said: Mapping[str, str], line: str) -> Indication:
        number = _number(said["value"], said.get("sign", ""))
        if number is None:
            return fault(FaultKind.NOT_A_NUMBER, f"the line {line!r} has no number in the place of the mass")
        unit = self._unit(said.get("unit", ""))
        if unit is None:
            return fault(FaultKind.IMPOSSIBLE_UNIT, f"the line {line!r} has none of the units {', '.join(UNITS)}")
        stable = said["stable"] in self.stable if "stable" in said else None
        return Indication(Measurement(float(number), unit), stable)

    def _unit(self, text: str) -> str | None:
        """The declared unit, or that of the line. Scales write G, KG and LB too: no two units differ by that alone."""
        if not text:
            return self.unit
        unit = self.units.get(text, text.lower())
        return unit if unit in UNITS else None


def _fits(pattern: re.Pattern[str] | None, line: str) -> bool:
    return pattern is not None and pattern.fullmatch(line) is not None


def _number(text: str, sign: str) -> Decimal | None:
    found = _NUMBER.fullmatch(text)
    if found is None or sign not in _SIGNS or (sign and found[1]):
        return None
    digits = found[2].replace(",", ".")
    if len(digits) > _MOST_DIGITS:
        return None
    return Decimal(digits) * _SIGNS[sign] * _SIGNS[found[1]] + 0  # no minus before a zero
