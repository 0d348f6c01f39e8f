"""Replay of a recorded stream: the same fold as in the service, with the stream's own times for a clock.

A line arrives when the newest of its records was measured, or when the line before it arrived, whichever is later: so
a backlog that was delivered late is late in the replay too. Between two lines the ticks fall due that a service would
have made.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from fillmark.engine import workshop
from fillmark.engine.errors import ActionRefusedError
from fillmark.engine.events import Entry, Event
from fillmark.engine.workshop import Workshop
from fillmark.intake.events import IntakeError, from_records
from fillmark.wire import senml

RECEIVED = "fillmark/received"
"""Channel with which an exported log says when the line reached the service."""


class StreamError(ValueError):
    """A stream that cannot be read: the line's number and why."""


def ticked(state: Workshop, until_s: float) -> Workshop:
    """The state after all ticks that fall due before `until_s`."""
    while (wake := state.wake_at_s) is not None and wake < until_s:
        for bay in state.bays_due(wake):
            state, _ = workshop.step(state, Entry(state.position + 1, wake, bay))
    return state


def entries(lines: Iterable[str]) -> Iterator[tuple[int, float, dict[str, tuple[Event, ...]]]]:
    """Line number, time of arrival, and events by bay of every line.

    Raises:
        StreamError: a line that is no pack.
    """
    arrival = 0.0
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        try:
            records = senml.decode(line, now_s=arrival)
            stamp = [record.value for record in records if record.name == RECEIVED and record.value is not None]
            records = tuple(record for record in records if record.name != RECEIVED)
            by_bay = from_records(records)
        except (senml.SenmlError, IntakeError) as error:
            raise StreamError(f"line {number}: {error}") from error
        newest = max((record.time_s for record in records), default=arrival)
        arrival = stamp[0] if stamp else max(arrival, newest)
        yield number, arrival, by_bay


def replay(lines: Iterable[str]) -> Iterator[Workshop]:
    """The workshop after every line of a stream.

    Raises:
        StreamError: a line that is no pack, or an action that does not fit.
    """
    state = Workshop()
    for number, arrival, by_bay in entries(lines):
        state = ticked(state, arrival)
        for bay, events in by_bay.items():
            try:
                state, _ = workshop.step(state, Entry(state.position + 1, arrival, bay, events))
            except ActionRefusedError as error:
                raise StreamError(f"line {number}: {error.detail}") from error
        yield state
