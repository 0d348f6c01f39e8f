"""The hash over the log: reckoned once more from its description, and changed in every way a log can be."""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillmark.report.chain import MARK_DIGITS, Chain, chain, differences
from fillmark.wire import senml

if TYPE_CHECKING:
    from tests.report.conftest import Lines

TEXTS = [
    '[{"n":"bay-1/scale/mass","u":"kg","t":1790000000.5,"v":1.25}]',
    '[{"n":"bay-1/low/pressure","u":"Pa","t":1790000001.25,"v":310500.5},{"n":"bay-1/scale/stable","t":1790000001.25,"vb":true}]',
    '[{"n":"fillmark/position","u":"count","t":1790000002.5,"v":812.5},{"n":"bay-1/action","t":1790000002.5,"vs":"{}"}]',
]  # fmt: skip
STREAM = "harvester-clean"


def chained(texts: list[str]) -> Chain:
    return chain([senml.decode(text, now_s=0.0) for text in texts])


def test_the_chain_is_what_its_description_says() -> None:
    # RFC 8785 section 3.2: no blanks, members sorted, numbers as ECMAScript writes them; these numbers are written the
    # same by Python's json. SHA-256 is FIPS 180-4, from the standard library.
    link = hashlib.sha256(b"fillmark log, chain 1").digest()
    marks = []
    for text in TEXTS:
        canonical = json.dumps(json.loads(text), sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()
        digest = hashlib.sha256(canonical)
        link = hashlib.sha256(link + digest.digest()).digest()
        marks.append(digest.hexdigest()[:MARK_DIGITS])
    found = chained(TEXTS)
    assert (found.head, found.marks) == (link.hex(), tuple(marks))


def test_numbers_are_written_as_the_standard_writes_them() -> None:
    # RFC 8785 appendix B (from memory): 1.0 is written 1, 1e21 as 1e+21, 4.5 as 4.5.
    one = '[{"n":"bay-1/scale/mass","u":"kg","t":1790000000,"v":%s}]'
    assert chained([one % "1.0"]) == chained([one % "1"])
    canonical = b'[{"n":"bay-1/scale/mass","t":1790000000,"u":"kg","v":1}]'
    assert chained([one % "1.0"]).marks == (hashlib.sha256(canonical).hexdigest()[:MARK_DIGITS],)


def test_spacing_and_order_of_members_do_not_count() -> None:
    spaced = [json.dumps([dict(reversed(record.items())) for record in json.loads(text)], indent=2) for text in TEXTS]
    assert chained(spaced) == chained(TEXTS)


@pytest.fixture(scope="module")
def stream(lines: Lines) -> list[str]:
    return lines(STREAM)[:160]


@pytest.fixture(scope="module")
def whole(stream: list[str]) -> Chain:
    return chained(stream)


@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_one_changed_digit_is_noticed_and_its_line_named(stream: list[str], whole: Chain, data: st.DataObject) -> None:
    index = data.draw(st.integers(0, len(stream) - 1))
    text = stream[index]
    places = [place for place, sign in enumerate(text) if sign.isdigit() and '"v":' in text[:place]]
    if not places:
        return
    place = data.draw(st.sampled_from(places))
    digit = data.draw(st.sampled_from([sign for sign in "123456789" if sign != text[place]]))
    changed = [*stream[:index], text[:place] + digit + text[place + 1 :], *stream[index + 1 :]]
    found = chained(changed)
    assert found.head != whole.head
    assert differences(whole.marks, found) == (f"line {index + 1} is not what it was",)


@pytest.mark.parametrize(
    ("order", "said"),
    [
        ([0, 1, 2], ()),
        ([0, 2], ("line 2 of the record is missing",)),
        ([0, 0, 1, 2], ("line 2 was not in the record's log",)),
        ([0, 1], ("line 3 of the record is missing",)),
    ],
)
def test_what_is_missing_or_added_is_named(order: list[int], said: tuple[str, ...]) -> None:
    whole = chained(TEXTS)
    found = chained([TEXTS[index] for index in order])
    assert (found.head == whole.head) == (not said)
    assert len(differences(whole.marks, found)) == len(said)
    if order == [0, 2]:
        assert differences(whole.marks, found) == said


def test_lines_in_another_order_give_another_hash() -> None:
    found = chained([TEXTS[1], TEXTS[0], TEXTS[2]])
    assert found.head != chained(TEXTS).head
    assert differences(chained(TEXTS).marks, found)


def test_a_line_of_an_exported_log_is_named_by_its_position() -> None:
    found = chained(TEXTS)
    assert found.name(2) == "line 3 (position 812 of the log)"
    assert found.name(0) == "line 1"
