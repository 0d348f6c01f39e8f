"""What every stage is: it takes readings while its step is in progress, and can report at any time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from fillmark.engine.report import Report

if TYPE_CHECKING:
    from fillmark.engine.course import Course
    from fillmark.engine.events import Fact, Reading


class Stage(Protocol):
    """Immutable. `course` is the job with the event already in it, but for the stage itself."""

    def read(self, course: Course, reading: Reading) -> Stage:
        """The stage after one more reading."""

    def acted(self, course: Course, fact: Fact) -> Stage:
        """The stage after something was done."""

    def ended(self, course: Course) -> Stage:
        """The stage when its step ends: what was put off is reckoned now."""

    def report(self, course: Course) -> Report:
        """What the step has shown so far."""
