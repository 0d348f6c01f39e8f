"""Hold a record against a log: is it the log from which the record was made, and does the record say what it says?"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from fillmark.intake.replay import StreamError
from fillmark.report.chain import Chain, chain, differences
from fillmark.report.document import document
from fillmark.report.retrace import Curves, retrace
from fillmark.wire import senml

Plain = dict[str, Any]
MOST_SAID = 20


class NotARecordError(ValueError):
    """What was given is no record of this form."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """What was found. `same` is true when nothing differs."""

    same: bool
    said: tuple[str, ...]


def verify(record: object, texts: Iterable[str]) -> Verdict:
    """Compare a record with a log: line by line, then figure by figure.

    Raises:
        NotARecordError: `record` is no record.
    """
    marks, head, job_id, versions = _parts(record)
    lines = list(texts)
    try:
        trace = retrace(lines)
        job = trace.job(job_id)
    except StreamError as error:
        found = chain(list(_readable(lines)))
        return Verdict(False, _short((f"the log cannot be folded: {error}", *differences(marks, found))))
    found = chain(trace.lines)
    if found.head != head:
        return Verdict(False, _short(_unlike(marks, found)))
    remade = document(job, trace.curves.get(job.id, Curves()), trace, found)
    other = tuple(_unequal(record, remade, ""))
    if not other:
        return Verdict(True, (f"the log is the one of the record: {len(marks)} lines, hash {head}",
                              "the record says what the log says"))  # fmt: skip
    said = ["the log is the one of the record, but the record does not say what the log says"]
    if versions != {name: remade["record"][name] for name in versions}:
        said.append(f"it names {versions}: where that is true, use those versions to compare, for others may differ")
    return Verdict(False, _short((*said, *other)))


def _parts(record: object) -> tuple[list[str], str, str, Plain]:
    try:
        log, made = record["log"], record["record"]  # type: ignore[index]  # whatever it is, a wrong type is caught
        marks, head, job_id = list(log["marks"]), log["hash"], record["job"]["id"]  # type: ignore[index]
        versions = {name: made[name] for name in ("form", "fillmark", "coolprop")}
    except (KeyError, TypeError, IndexError) as error:
        raise NotARecordError("it is no record of a job; give the JSON form, as record.json") from error
    if not all(isinstance(text, str) for text in (*marks, head, job_id)):
        raise NotARecordError("its marks and hash are no texts; give the JSON form as Fillmark wrote it")
    return marks, head, job_id, versions


def _unlike(marks: Sequence[str], found: Chain) -> tuple[str, ...]:
    said = differences(marks, found)
    if said:
        return (f"the log is not the one of the record: {len(said)} difference(s)", *said)
    return ("every line is as the record marks it, but the record's hash is not the log's: the record was changed",)


def _readable(lines: Iterable[str]) -> Iterator[tuple[senml.Record, ...]]:
    for text in lines:
        if text.strip():
            try:
                yield senml.decode(text, now_s=0.0)
            except senml.SenmlError:
                yield ()


def _unequal(one: object, other: object, pointer: str) -> Iterator[str]:
    """Where two documents differ, as JSON pointers with both values."""
    if isinstance(one, dict) and isinstance(other, dict):
        for name in dict.fromkeys((*one, *other)):
            yield from _unequal(one.get(name), other.get(name), senml.pointer_to(pointer, name))
    elif isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        for index, (left, right) in enumerate(zip(one, other, strict=True)):
            yield from _unequal(left, right, f"{pointer}/{index}")
    elif one != other or isinstance(one, bool) is not isinstance(other, bool):
        yield f"{pointer}: the record says {_brief(one)}, the log gives {_brief(other)}"


def _brief(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 80 else text[:79] + "…"


def _short(said: tuple[str, ...]) -> tuple[str, ...]:
    if len(said) <= MOST_SAID:
        return said
    return (*said[:MOST_SAID], f"and {len(said) - MOST_SAID} more")
