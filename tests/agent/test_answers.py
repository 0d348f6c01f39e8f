"""What each answer means for the readings. Status codes and Retry-After: RFC 9110; problem documents: RFC 9457."""

from __future__ import annotations

from datetime import UTC, datetime

import httpx
import pytest

from fillmark_agent.answers import MOST_RETRY_AFTER_S, Verdict, read_answer


def problem(status: int, kind: str = "about:blank", **headers: str) -> httpx.Response:
    return httpx.Response(status, json={"type": kind, "title": "T", "detail": "what is wrong"}, headers=headers)


def test_a_success_with_counts_is_taken() -> None:
    answer = read_answer(httpx.Response(200, json={"accepted": 3, "duplicate": 2, "unassigned": 1}))
    assert (answer.verdict, answer.accepted, answer.duplicate, answer.unassigned) == (Verdict.TAKEN, 3, 2, 1)


@pytest.mark.parametrize(
    "body",
    [b"", b"<html>welcome</html>", b"[]", b"{}", b'{"accepted":"3"}', b'{"accepted":true}', b'{"accepted":null}'],
)
def test_a_success_of_somebody_else_takes_nothing(body: bytes) -> None:
    answer = read_answer(httpx.Response(200, content=body))
    assert answer.verdict is Verdict.LATER
    assert "service.url leads to something else" in answer.problem


def statuses_that_blame(kind: str) -> set[int]:
    verdicts = {status: read_answer(problem(status, kind)).verdict for status in range(300, 600)}
    assert set(verdicts.values()) == {Verdict.BAD, Verdict.LATER}
    return {status for status, verdict in verdicts.items() if verdict is Verdict.BAD}


def test_only_four_statuses_blame_the_readings_by_themselves() -> None:
    assert statuses_that_blame("about:blank") == {400, 409, 413, 422}


def test_with_a_type_every_4xx_does_that_is_not_about_the_caller_or_the_address() -> None:
    innocent = {401, 403, 404, 405, 407, 408, 415, 425, 429}
    assert statuses_that_blame("/problems/out-of-order") == set(range(400, 500)) - innocent


@pytest.mark.parametrize("status", [400, 409, 422, 425])
@pytest.mark.parametrize(
    "kind",
    [
        "reading-from-the-future",
        "https://fillmark.test/problems/reading-from-the-future/",
        "/p/reading-from-the-future",
    ],
)
def test_a_reading_from_the_future_waits(status: int, kind: str) -> None:
    assert read_answer(problem(status, kind)).verdict is Verdict.FUTURE


@pytest.mark.parametrize(("status", "hint"), [(401, "FILLMARK_TOKEN"), (403, "token"), (404, "url"), (415, "SenML")])
def test_a_refusal_of_the_agent_says_what_to_change(status: int, hint: str) -> None:
    assert hint in read_answer(problem(status)).problem


def test_a_problem_document_gives_its_type_and_text() -> None:
    answer = read_answer(problem(422, "/problems/bad-unit"))
    assert (answer.type, answer.problem, answer.status) == ("/problems/bad-unit", "what is wrong", 422)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [
        ("120", 120.0),  # the two forms of RFC 9110 section 10.2.3
        ("Fri, 31 Dec 1999 23:59:59 GMT", 59.0),
        ("Fri, 31 Dec 1999 23:00:00 GMT", 0.0),
        ("999999", MOST_RETRY_AFTER_S),
        ("Fri, 31 Dec 2049 23:59:59 GMT", MOST_RETRY_AFTER_S),
        ("soon", None),
        ("-1", None),
        ("", None),
    ],
)
def test_retry_after_is_read_in_both_forms_and_bounded(text: str, seconds: float | None) -> None:
    now = datetime(1999, 12, 31, 23, 59, 0, tzinfo=UTC)
    assert read_answer(problem(503, **{"retry-after": text}), now=now).retry_after_s == seconds
