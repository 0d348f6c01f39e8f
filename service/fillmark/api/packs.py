"""Between records and entries of the log: checks at the door, parts by bay, and back again at start."""

from __future__ import annotations

import hashlib
import math
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from fillmark.api import body
from fillmark.api.problems import ProblemError
from fillmark.engine.events import Event
from fillmark.intake import stock
from fillmark.intake.events import IntakeError, from_records
from fillmark.store.log import Identity, LogEntry
from fillmark.wire import channels, senml
from fillmark.wire.senml import Record, SenmlError

RESERVED_BAY = "fillmark"
"""No bay of anybody: its channels mark exported lines and carry the entries of the stock."""
LONGEST_NAME = 200
BAY = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:._]{0,63}")


@dataclass(frozen=True, slots=True)
class Part:
    """What a request holds for one bay."""

    bay: str
    records: tuple[Record, ...]
    events: tuple[Event, ...]
    pack: str


def identity_of(record: Record) -> Identity:
    """What makes a record the same as another."""
    if record.text is not None and channels.parse(record.name).local == channels.ACTION:
        digest = hashlib.blake2b(record.text.encode(), digest_size=16).hexdigest()
        return Identity(record.name, record.time_s, digest)
    return Identity(record.name, record.time_s)


def checked(records: Sequence[Record], now_s: float, future_limit_s: float) -> None:
    """Refuse what cannot be kept.

    Raises:
        ProblemError: naming the first record at fault.
    """
    for index, record in enumerate(records):
        try:
            bay = channels.parse(record.name).bay
        except SenmlError as error:
            raise _bad(index, "n", error.problem, error.accepted) from error
        if len(record.name) > LONGEST_NAME or BAY.fullmatch(bay) is None:
            raise _bad(index, "n", "the name is too long", f"a bay of at most 64 characters, {LONGEST_NAME} in all")
        if bay == RESERVED_BAY:
            raise _bad(index, "n", f"{RESERVED_BAY}/… marks lines of an exported log", "the name of a bay")
        if not all(math.isfinite(v) for v in (record.value, record.sum, record.update_time_s) if v is not None):
            raise _bad(index, "v", "the number with its base value is not finite", "a finite number")
        if record.time_s < senml.RELATIVE_BELOW_S:
            raise _bad(index, "t", f"{record.time_s!r} lies decades ago", "Unix seconds, or seconds relative to now")
        if record.time_s > now_s + future_limit_s:
            raise _future(index, record, now_s)
        if record.text is not None and "\\u" in record.text:
            _check_text(index, record.text)


def _check_text(index: int, text: str) -> None:
    """JSON within a text can hide half of a character that takes two, which no display can show."""
    try:
        body.parse(text.encode())
    except ProblemError as error:
        raise _bad(index, "vs", error.refusal.detail, "text in UTF-8") from error


def part_of_action(bay: str, time_s: float, text: str) -> Part:
    """One action, sent by itself as JSON text.

    Raises:
        ProblemError: it cannot be read. The field is one of the action.
    """
    record = Record(f"{bay}/{channels.ACTION}", time_s, text=text)
    try:
        events = from_records([record])[bay]
    except IntakeError as error:
        field = error.field.removeprefix("/0/vs")
        raise ProblemError("invalid-field", error.problem, field=field, accepted=error.accepted) from error
    return Part(bay, (record,), events, _pack([record]))


def part_of_stock(time_s: float, text: str) -> Part:
    """One entry of the stock, as JSON text. The engine has no event for it."""
    record = Record(stock.CHANNEL, time_s, text=text)
    return Part(RESERVED_BAY, (record,), (), _pack([record]))


def parts_of(records: Sequence[Record], places: Sequence[int]) -> list[Part]:
    """The records by bay, with their events. `places` are their indices in the pack that was sent.

    Raises:
        ProblemError: a record that no sensor can have sent, or an action that cannot be read.
    """
    try:
        same = [channels.normalise(record, f"/{place}") for record, place in zip(records, places, strict=True)]
    except SenmlError as error:
        raise ProblemError("invalid-senml", error.problem, field=error.field, accepted=error.accepted) from error
    try:
        events = from_records(same)
    except IntakeError as error:
        raise _unfit(error, places) from error
    by_bay: dict[str, list[Record]] = {bay: [] for bay in events}
    for record in same:
        by_bay[channels.parse(record.name).bay].append(record)
    return [Part(bay, tuple(found), events[bay], _pack(found)) for bay, found in by_bay.items()]


def unpacked(entry: LogEntry) -> tuple[tuple[Record, ...], tuple[Event, ...]]:
    """Records and events of an entry of the log.

    Raises:
        SenmlError, IntakeError: the entry is damaged or of another version.
    """
    if not entry.pack:
        return (), ()
    records = senml.decode(entry.pack, now_s=entry.received_s)
    return records, from_records(records).get(entry.bay, ())


def _pack(records: Iterable[Record]) -> str:
    text = senml.encode(tuple(records))
    try:
        text.encode("utf-8")
    except UnicodeError as error:
        raise ProblemError("invalid-senml", "a text is not UTF-8", accepted="text in UTF-8") from error
    return text


def _bad(index: int, label: str, problem: str, accepted: str) -> ProblemError:
    return ProblemError("invalid-senml", problem, field=f"/{index}/{label}", accepted=accepted)


def _future(index: int, record: Record, now_s: float) -> ProblemError:
    ahead = record.time_s - now_s
    return ProblemError(
        "reading-from-the-future",
        f"{record.name} is {ahead:.1f} s ahead of the service's clock; check the clock of the sender",
        field=f"/{index}/t",
        accepted="a time that has come, as seconds since 1970-01-01 in UTC",
        more={"ahead_s": round(ahead, 3), "now": now_s},
    )


def _unfit(error: IntakeError, places: Sequence[int]) -> ProblemError:
    """The fault with its index in the pack that was sent."""
    head, _, rest = error.field.removeprefix("/").partition("/")
    field = error.field
    if head.isdigit() and int(head) < len(places):
        field = f"/{places[int(head)]}/{rest}"
    slug = "invalid-senml" if isinstance(error.__cause__, SenmlError) else "invalid-field"
    return ProblemError(slug, error.problem, field=field, accepted=error.accepted)
