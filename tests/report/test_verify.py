"""A record held against its log, another log, a changed log; and a record that was changed itself."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from fillmark.report.document import record_of
from fillmark.report.verify import MOST_SAID, NotARecordError, verify

if TYPE_CHECKING:
    from tests.report.conftest import Charge


@pytest.fixture
def log(charge: Charge) -> list[str]:
    return charge()


@pytest.fixture
def record(log: list[str]) -> dict[str, Any]:
    return record_of(log)


def test_record_and_log_belong_together(record: dict[str, Any], log: list[str]) -> None:
    verdict = verify(record, log)
    assert verdict.same
    assert record["log"]["hash"] in verdict.said[0]


@pytest.mark.parametrize("index", [0, 7, 60, 150, 230])
def test_one_changed_digit_of_the_log_is_named(record: dict[str, Any], log: list[str], index: int) -> None:
    place = log[index].rindex('"t": 1790000') + len('"t": 1790000')
    digit = str((int(log[index][place]) + 1) % 10)
    log[index] = log[index][:place] + digit + log[index][place + 1 :]
    verdict = verify(record, log)
    assert not verdict.same
    assert f"line {index + 1} is not what it was" in verdict.said


def test_a_line_taken_out_or_put_in_is_named(record: dict[str, Any], log: list[str]) -> None:
    assert "line 41 of the record is missing" in verify(record, [*log[:40], *log[41:]]).said
    assert (
        "line 42 was not in the record's log" in verify(record, [*log[:41], log[40].replace("0", "1"), *log[41:]]).said
    )


def test_a_log_that_no_longer_folds_is_still_compared(record: dict[str, Any], log: list[str]) -> None:
    log[100] = log[100].replace('"v"', '"w"')
    verdict = verify(record, log)
    assert not verdict.same
    assert verdict.said[0].startswith("the log cannot be folded: line 101")
    assert verdict.said[1:] == ("line 101 is not what it was",)


@pytest.mark.parametrize(
    ("path", "value"),
    [(("charge", "charged_kg"), 0.35), (("particulars", "technician"), "A. Weir"), (("steps", 0, "verdict"), "x"),
     (("record", "complete"), 1), (("log", "lines"), 5), (("log", "marks", 3), "0" * 16)],
)  # fmt: skip
def test_a_changed_record_is_noticed_and_the_figure_named(
    record: dict[str, Any], log: list[str], path: tuple[Any, ...], value: object
) -> None:
    place: Any = record
    for part in path[:-1]:
        place = place[part]
    place[path[-1]] = value
    verdict = verify(record, log)
    assert not verdict.same
    assert any(line.startswith("/" + "/".join(map(str, path))) for line in verdict.said)


def test_a_changed_hash_is_noticed(record: dict[str, Any], log: list[str]) -> None:
    record["log"]["hash"] = record["log"]["hash"].replace("a", "b")
    verdict = verify(record, log)
    assert not verdict.same
    assert "the record was changed" in verdict.said[0]


def test_another_version_is_named_where_figures_differ(record: dict[str, Any], log: list[str]) -> None:
    record["record"]["coolprop"] = "7.2.0"
    verdict = verify(record, log)
    assert not verdict.same
    assert "7.2.0" in verdict.said[1]


def test_much_is_said_shortly(record: dict[str, Any], charge: Charge) -> None:
    other = [line.replace("17900", "17910") for line in charge()]
    said = verify(record, other).said
    assert len(said) == MOST_SAID + 1
    assert said[-1].endswith(" more")


@pytest.mark.parametrize("thing", [None, [], {}, 5, {"log": {"marks": 5}}, {"log": []}, "record"])
def test_what_is_no_record_is_refused(thing: object, log: list[str]) -> None:
    with pytest.raises(NotARecordError):
        verify(thing, log)
