"""What an answer of the service means for the records that were sent.

| answer | the records |
|---|---|
| 2xx with the counts of a Fillmark service | are in its log: leave the queue |
| problem type "...reading-from-the-future" | wait: the two clocks disagree |
| 400, 409, 413, 422, another 4xx with a problem type | one is bad: it is found and set apart, the others go on |
| no answer, 3xx, 5xx, 2xx of somebody else, 4xx that is about the caller or the address | stay, all are sent again |

A refused token, a wrong address or a busy service says nothing about a reading: such a 4xx never costs one.
"""

from __future__ import annotations

import email.utils
import enum
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import UTC, datetime

import httpx

FUTURE_SLUG = "reading-from-the-future"
MOST_RETRY_AFTER_S = 300.0
_BLANK = "about:blank"
_BAD = frozenset({400, 409, 413, 422})
_NOT_THE_RECORDS = frozenset({401, 403, 404, 405, 407, 408, 415, 425, 429})
_HINTS: Mapping[int, str] = {
    401: "give the token in FILLMARK_TOKEN or service.token",
    403: "the token may not write; give another one",
    404: "service.url does not lead to a Fillmark service",
    405: "service.url does not lead to a Fillmark service",
    415: "the service does not read SenML; is it of another version?",
}


class Verdict(enum.Enum):
    """What to do with the records."""

    TAKEN = "taken"
    FUTURE = "future"
    BAD = "bad"
    LATER = "later"


@dataclass(frozen=True, slots=True)
class Answer:
    """One answer, read.

    Attributes:
        verdict: what to do with the records.
        status: HTTP status.
        type: type of the problem document.
        problem: for a person.
        retry_after_s: what the service asked for, seconds; None when it did not.
        accepted: records that were new to the service.
        duplicate: records that it had.
        unassigned: records of a bay without a job.
    """

    verdict: Verdict
    status: int
    type: str = _BLANK
    problem: str = ""
    retry_after_s: float | None = None
    accepted: int = 0
    duplicate: int = 0
    unassigned: int = 0


def read_answer(response: httpx.Response, *, now: datetime | None = None) -> Answer:
    """Read an answer of POST /v1/readings. `now` is for a Retry-After that names a date."""
    body = _object(response)
    if response.is_success:
        return _success(response.status_code, body)
    kind = _string(body, "type", _BLANK)
    problem = _string(body, "detail", "") or _string(body, "title", "") or response.reason_phrase
    status = response.status_code
    verdict = Verdict.BAD if _blames_the_records(status, kind) else Verdict.LATER
    if kind.rstrip("/").endswith(FUTURE_SLUG):
        verdict = Verdict.FUTURE
    if verdict is Verdict.LATER and status in _HINTS:
        problem = f"{problem}; {_HINTS[status]}"
    return Answer(verdict, status, kind, problem, _retry_after_s(response, now))


def _blames_the_records(status: int, kind: str) -> bool:
    typed = 400 <= status < 500 and status not in _NOT_THE_RECORDS and kind != _BLANK
    return status in _BAD or typed


def _success(status: int, body: Mapping[str, object]) -> Answer:
    counts = [body.get(name) for name in ("accepted", "duplicate", "unassigned")]
    accepted, duplicate, unassigned = (count if type(count) is int else 0 for count in counts)
    if type(counts[0]) is not int:
        return Answer(
            Verdict.LATER, status, problem='the answer does not count "accepted": service.url leads to something else'
        )
    return Answer(Verdict.TAKEN, status, accepted=accepted, duplicate=duplicate, unassigned=unassigned)


def _object(response: httpx.Response) -> Mapping[str, object]:
    try:
        body = response.json()
    except ValueError:
        return {}
    return body if isinstance(body, dict) else {}


def _string(body: Mapping[str, object], name: str, default: str) -> str:
    value = body.get(name)
    return value if isinstance(value, str) else default


def _retry_after_s(response: httpx.Response, now: datetime | None) -> float | None:
    """Retry-After as seconds or as a date, RFC 9110 section 10.2.3; bounded, so that a slip cannot stop the agent."""
    text = response.headers.get("retry-after", "").strip()
    if text.isascii() and text.isdigit():
        return min(float(text), MOST_RETRY_AFTER_S)
    try:
        date = email.utils.parsedate_to_datetime(text)
    except ValueError:
        return None
    if date.tzinfo is None:
        date = date.replace(tzinfo=UTC)
    return min(max((date - (now or datetime.now(UTC))).total_seconds(), 0.0), MOST_RETRY_AFTER_S)
