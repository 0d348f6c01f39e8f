"""Order of time out of order of arrival.

A reading that comes late (a backlog after an outage, a slow second agent) takes its place in time: the timeline goes
back to the last course before it and folds again what came after. A reading that is already there changes nothing.

Of one moment, readings come before actions and in order of their channels, so that it makes no difference in which
order they came; actions stay in the order in which they were told.

Events are kept in chunks, each with the course at its beginning, so that going back costs at most one chunk more than
the events that really lie behind. All of it is immutable: a refused event leaves the old timeline as it was.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from fillmark.engine.course import Course
from fillmark.engine.events import Fact, Reading
from fillmark.engine.fold import fold

CHUNK_EVENTS = 64

Item = Reading | Fact


@dataclass(frozen=True, slots=True)
class Chunk:
    """A run of events in order of time, and the course before the first of them."""

    start: Course
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class Timeline:
    """All events of a job in order of time; `course` is their fold."""

    course: Course
    chunks: tuple[Chunk, ...]

    @classmethod
    def begun(cls, course: Course) -> Timeline:
        """A timeline without events."""
        return cls(course, (Chunk(course, ()),))

    def with_items(self, items: Sequence[Item]) -> Timeline:
        """The timeline with more events, in whatever order they came.

        Raises:
            ActionRefusedError: an action does not fit at its time, or an earlier one no longer fits after it.
        """
        timeline = self
        late: list[Item] = []
        for item in sorted(items, key=_place):
            if not late and timeline._follows(item):
                if not timeline._has(item):
                    timeline = timeline._appended(item)
            else:
                late.append(item)
        return timeline._inserted(late) if late else timeline

    def _follows(self, item: Item) -> bool:
        """Whether the event can be put at the end."""
        if item.time_s < self.course.time_s:
            return False
        known = self.chunks[-1].items
        return not known or _place(item) >= _place(known[-1])

    def _appended(self, item: Item) -> Timeline:
        course = fold(self.course, item)
        last = self.chunks[-1]
        if len(last.items) < CHUNK_EVENTS:
            return Timeline(course, (*self.chunks[:-1], Chunk(last.start, (*last.items, item))))
        return Timeline(course, (*self.chunks, Chunk(self.course, (item,))))

    def _has(self, item: Item) -> bool:
        """Whether the same event is there already. Only the events of the same moment need a look."""
        for chunk in reversed(self.chunks):
            for known in reversed(chunk.items):
                if known.time_s < item.time_s:
                    return False
                if _same(known, item):
                    return True
        return False

    def _inserted(self, late: Sequence[Item]) -> Timeline:
        earliest = min(item.time_s for item in late)
        keep = len(self.chunks)
        while keep > 0 and self.chunks[keep - 1].start.time_s >= earliest:
            keep -= 1
        keep = max(keep - 1, 0)
        base = self.chunks[keep]
        redo = [item for chunk in self.chunks[keep:] for item in chunk.items]
        merged = _merged(redo, late)
        timeline = Timeline(base.start, (*self.chunks[:keep], Chunk(base.start, ())))
        for item in merged:
            timeline = timeline._appended(item)
        return timeline


def _place(item: Item) -> tuple[float, bool, str]:
    """Key of an event's place in time."""
    return (item.time_s, False, item.channel) if isinstance(item, Reading) else (item.time_s, True, "")


def _same(one: Item, other: Item) -> bool:
    """A reading is identified by channel and time, an action by all that it says."""
    if isinstance(one, Reading) and isinstance(other, Reading):
        return one.time_s == other.time_s and one.channel == other.channel
    return one == other


def _merged(known: Sequence[Item], late: Sequence[Item]) -> list[Item]:
    """Both in their places, what was known first among equals, without repetition."""
    merged: list[Item] = []
    for _, moment in itertools.groupby(sorted([*known, *late], key=_place), key=lambda item: item.time_s):
        found: list[Item] = []
        for item in moment:
            if not any(_same(other, item) for other in found):
                found.append(item)
        merged += found
    return merged
