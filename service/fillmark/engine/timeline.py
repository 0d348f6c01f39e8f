"""Order of time out of order of arrival.

A reading that comes late (a backlog after an outage, a slow second agent) takes its place in time: the timeline goes
back to the last course before it and folds again what came after. A reading that is already there changes nothing.

Of one moment, readings come before actions and in order of their channels, so that it makes no difference in which
order they came; actions stay in the order in which they were told.

Events are kept in chunks, each with the course at its beginning, so that going back costs at most one chunk more than
the events that really lie behind. All of it is immutable: a refused event leaves the old timeline as it was.

Only going back needs the events, so a timeline may be told how many chunks to keep. It then does not reach back to what
came before; whoever holds the log can make it whole again. The course never depends on how much is kept.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from fillmark.engine.course import Course
from fillmark.engine.errors import OtherCourseError
from fillmark.engine.events import Fact, Reading
from fillmark.engine.fold import fold

CHUNK_EVENTS = 64
RECENT_CHUNKS = 256
"""Enough for what two agents and a network put out of order, and for the actions of a long outage. Judged."""

Item = Reading | Fact


@dataclass(frozen=True, slots=True)
class Chunk:
    """A run of events in order of time, and the course before the first of them."""

    start: Course
    items: tuple[Item, ...]


@dataclass(frozen=True, slots=True)
class Timeline:
    """The events of a job in order of time; `course` is the fold of all of them.

    Attributes:
        most_chunks: how many are kept; None: all.
        whole: whether none is forgotten yet.
        settled: events since one came that lay further back than `most_chunks`. Until they are as many as are kept,
            nothing is forgotten, because the rest of a backlog may follow.
    """

    course: Course
    chunks: tuple[Chunk, ...]
    most_chunks: int | None = None
    whole: bool = True
    settled: int = 0

    @classmethod
    def begun(cls, course: Course, most_chunks: int | None = None) -> Timeline:
        """A timeline without events."""
        return cls(course, (Chunk(course, ()),), most_chunks)

    @property
    def items(self) -> tuple[Item, ...]:
        """The events that are kept."""
        return tuple(item for chunk in self.chunks for item in chunk.items)

    def reaches(self, items: Iterable[Item]) -> bool:
        """Whether all of these events, which may be late, can be given their place."""
        return self.whole or all(item.time_s > self.chunks[0].start.time_s for item in items)

    def cut(self, chunks: int) -> Timeline:
        """The timeline with so many of its last chunks, or as many as it has; 0: its course alone."""
        if chunks >= len(self.chunks):
            return self
        kept = self.chunks[-chunks:] if chunks else (Chunk(self.course, ()),)
        return replace(self, chunks=kept, whole=False)

    def joined(self, recent: Timeline) -> Timeline:
        """This timeline and the events that `recent`, a part of the same job, has beyond it.

        Raises:
            OtherCourseError: they do not lead to the course of `recent`.
        """
        joined = self.with_items(recent.items)
        if joined.course != recent.course:
            raise OtherCourseError("the events of the log do not lead to the course that they had led to")
        return joined

    def with_items(self, items: Sequence[Item]) -> Timeline:
        """The timeline with more events, in whatever order they came. It must reach back to them.

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
            chunks = (*self.chunks[:-1], Chunk(last.start, (*last.items, item)))
        else:
            chunks = (*self.chunks, Chunk(self.course, (item,)))
        return Timeline(course, chunks, self.most_chunks, self.whole, self.settled + 1)._forgetting()

    def _forgetting(self) -> Timeline:
        most = self.most_chunks
        if most is None or len(self.chunks) <= most or self.settled < most * CHUNK_EVENTS:
            return self
        return self.cut(most)

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
        timeline = Timeline(base.start, (*self.chunks[:keep], Chunk(base.start, ())), whole=self.whole)
        for item in merged:
            timeline = timeline._appended(item)
        far = self.most_chunks is not None and len(self.chunks) - keep > self.most_chunks
        settled = 0 if far else self.settled + len(late)
        return replace(timeline, most_chunks=self.most_chunks, settled=settled)._forgetting()


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
