"""What a step leaves behind: what it measured, what that proves, what it does not prove, and what to do next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

Number = float | int | str | bool | None


@dataclass(frozen=True, slots=True)
class Finding:
    """What a judgement says, in short sentences for the technician."""

    measured: tuple[str, ...] = ()
    proves: tuple[str, ...] = ()
    does_not_prove: tuple[str, ...] = ()
    next: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()


NOTHING_SAID = Finding()


@dataclass(frozen=True, slots=True)
class Report:
    """One step's report, in sentences for people and in numbers with the unit in the name for machines."""

    measured: tuple[str, ...] = ()
    proves: tuple[str, ...] = ()
    does_not_prove: tuple[str, ...] = ()
    next: tuple[str, ...] = ()
    verdict: str | None = None
    numbers: Mapping[str, Number] = field(default_factory=dict)

    @classmethod
    def of(cls, finding: Finding, verdict: str, numbers: Mapping[str, Number]) -> Report:
        """A finding as the report of a step."""
        return cls(
            measured=finding.measured,
            proves=finding.proves,
            does_not_prove=finding.does_not_prove,
            next=(*finding.next, *finding.cautions),
            verdict=verdict,
            numbers=numbers,
        )
