"""Replay of a stream: the same fold as in the service, with the stream's own times for a clock.

A line arrives when the newest of its records was measured, or when the line before it arrived, whichever is later: so
a backlog that was delivered late is late in the replay too. Between two lines the ticks fall due that a service would
have made.

A line that a service has exported says itself when it arrived, at which position it stands in the log, and which job it
opens. Its ticks are lines of their own, so none is made up, and the state is the service's own to the last byte.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace

from fillmark.engine import workshop
from fillmark.engine.errors import ActionRefusedError
from fillmark.engine.events import Entry
from fillmark.engine.workshop import Workshop
from fillmark.intake.events import IntakeError, from_records
from fillmark.wire import senml
from fillmark.wire.senml import Record

RECEIVED = "fillmark/received"
"""Channel with which an exported log says when the line reached the service, Unix seconds."""

POSITION = "fillmark/position"
"""Channel with which it says the line's position in the log."""

JOB = "fillmark/job"
"""Channel with which it says which job the line opens, as BAY.NUMBER."""

_MARKS = frozenset({RECEIVED, POSITION, JOB})


class StreamError(ValueError):
    """A stream that cannot be read: the line's number and why."""


class Replay:
    """A workshop that is fed pack by pack. `state` is the fold so far."""

    def __init__(self) -> None:
        self.state = Workshop()
        self.now_s = 0.0

    def take(self, records: Sequence[Record], arrival_s: float | None = None) -> None:
        """Take one pack.

        Args:
            records: resolved records of one pack.
            arrival_s: when it arrived; when absent, its stamp or its newest record says so.

        Raises:
            IntakeError, ActionRefusedError: the pack is refused; the state is as it was.
        """
        marks = {r.name: r for r in records if r.name in _MARKS}
        records = [r for r in records if r.name not in _MARKS]
        by_bay = from_records(records)
        newest = max((r.time_s for r in records), default=self.now_s)
        received = marks[RECEIVED].value if RECEIVED in marks else None
        if arrival_s is None:
            arrival_s = max(self.now_s, newest) if received is None else received
        state = _ticked(self.state, arrival_s) if received is None else _placed(self.state, marks)
        for bay, events in by_bay.items():
            state, _ = workshop.step(state, Entry(state.position + 1, arrival_s, bay, events))
        self.state, self.now_s = state, arrival_s

    def take_line(self, text: str, number: int) -> tuple[Record, ...]:
        """Take one line of a stream; its resolved records.

        Raises:
            StreamError: the line is no pack, or an action in it does not fit; the state is as it was.
        """
        try:
            records = senml.decode(text, now_s=self.now_s)
            self.take(records)
        except (senml.SenmlError, IntakeError) as error:
            raise StreamError(f"line {number}: {error}") from error
        except ActionRefusedError as error:
            raise StreamError(f"line {number}: {error.detail}") from error
        return records

    def active(self) -> frozenset[str]:
        """Ids of the stop points that are active in any open job."""
        jobs = (self.state.jobs[job_id] for job_id in self.state.open_jobs.values())
        return frozenset(key[0] for job in jobs for key in job.active)


def _placed(state: Workshop, marks: Mapping[str, Record]) -> Workshop:
    """The state just before a line of an exported log: its position and its job's number are the service's."""
    position, job = marks.get(POSITION), marks.get(JOB)
    if position is not None and position.value is not None:
        state = replace(state, position=int(position.value) - 1)
    if job is not None and job.text is not None:
        bay, _, number = job.text.rpartition(".")
        if not number.isdecimal():
            raise IntakeError(f"/{JOB}", f"{job.text!r} is no job", "BAY.NUMBER, as bay-1.3")
        state = replace(state, opened_in_bay={**state.opened_in_bay, bay: int(number) - 1})
    return state


def _ticked(state: Workshop, until_s: float) -> Workshop:
    """The state after all ticks that fall due before `until_s`."""
    while (wake := state.wake_at_s) is not None and wake < until_s:
        for bay in state.bays_due(wake):
            state, _ = workshop.step(state, Entry(state.position + 1, wake, bay))
    return state


def replay(lines: Iterable[str]) -> Iterator[Workshop]:
    """The workshop after every line of a recorded stream.

    Raises:
        StreamError: a line that is no pack, or an action that does not fit.
    """
    run = Replay()
    for number, line in enumerate(lines, start=1):
        if not line.strip():
            continue
        run.take_line(line, number)
        yield run.state
