"""A hash over the log, so that one changed digit is noticed, and a mark a line, so that the line can be named.

* A line counts as its resolved SenML records (RFC 8428 section 4.6), written as canonical JSON (RFC 8785). Spacing and
  the order of members do not count; every value, unit, time and text does, and so do the lines' order and number.
* The chain: link 0 is the SHA-256 (FIPS 180-4) of SEED, link n that of link n-1 followed by the SHA-256 of line n.
  The last link is the hash over the log.
* A line's mark is the beginning of its own SHA-256: with it a difference is found, the hash decides.

A hash without a signature proves that two texts are the same. It does not prove who wrote them, or when: whoever can
change the log and the record can make both anew. It holds against one who has the log but not your copy of the hash.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

import rfc8785

from fillmark.intake.replay import POSITION
from fillmark.wire import senml
from fillmark.wire.senml import Record

ALGORITHM = "SHA-256 chain over RFC 8785 canonical JSON of each line's resolved SenML records"
SEED = b"fillmark log, chain 1"
MARK_DIGITS = 16

PROVES = (
    "If the log gives this hash again, it is the log from which this record was made: no digit has changed since.",
)
DOES_NOT_PROVE = (
    "It is not signed: it does not prove who wrote the log or when, nor that the readings were true when they came.",
    "Who can change both the log and the record can make both anew. Keep a copy of the hash with somebody else.",
)


@dataclass(frozen=True, slots=True)
class Chain:
    """The hash over a log, and one mark a line."""

    head: str
    marks: tuple[str, ...]
    positions: tuple[int | None, ...]

    def name(self, index: int) -> str:
        """What a line is called: its position in the service's log where it carries one, and its number."""
        position = self.positions[index] if index < len(self.positions) else None
        return f"line {index + 1}" + ("" if position is None else f" (position {position} of the log)")


def chain(lines: Sequence[Sequence[Record]]) -> Chain:
    """The chain over resolved lines."""
    link = hashlib.sha256(SEED).digest()
    marks, positions = [], []
    for records in lines:
        digest = hashlib.sha256(rfc8785.dumps(senml.plain(records)))
        link = hashlib.sha256(link + digest.digest()).digest()
        marks.append(digest.hexdigest()[:MARK_DIGITS])
        positions.append(_position(records))
    return Chain(link.hex(), tuple(marks), tuple(positions))


def _position(records: Sequence[Record]) -> int | None:
    values = [record.value for record in records if record.name == POSITION]
    return None if not values or values[0] is None else int(values[0])


def differences(recorded: Sequence[str], found: Chain) -> tuple[str, ...]:
    """Which lines differ between the marks of a record and a log, in sentences; none where none differs."""
    said = []
    matcher = SequenceMatcher(None, recorded, found.marks, autojunk=False)
    for kind, old, old_end, new, new_end in matcher.get_opcodes():
        if kind == "equal":
            continue
        changed = min(old_end - old, new_end - new)
        said += [f"{found.name(new + index)} is not what it was" for index in range(changed)]
        said += [f"line {index + 1} of the record is missing" for index in range(old + changed, old_end)]
        said += [f"{found.name(index)} was not in the record's log" for index in range(new + changed, new_end)]
    return tuple(said)
