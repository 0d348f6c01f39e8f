"""Rules of RFC 8428, a section beside each, and what breaks them. Unless said otherwise the section was read in the
last draft of the RFC, whose wording of these rules it kept."""

from __future__ import annotations

import json
import math

import pytest

from fillmark.wire import senml
from fillmark.wire.senml import Record, SenmlError

NOW_S = 1_790_000_000.0
T_S = 1_789_999_000.0


def resolve(*items: object) -> tuple[Record, ...]:
    return senml.resolve(list(items), now_s=NOW_S)


def refusal(*items: object) -> SenmlError:
    with pytest.raises(SenmlError) as caught:
        resolve(*items)
    return caught.value


# Section 4.5.3: below 2**28 a time counts from now; from there on it counts from 1970. The number is from memory.
@pytest.mark.parametrize(
    ("sent_s", "resolved_s"),
    [
        (0, NOW_S), (-5, NOW_S - 5), (2.5, NOW_S + 2.5),
        (2**28 - 1, NOW_S + 2**28 - 1), (2**28, 2.0**28), (T_S, T_S),
    ],
)  # fmt: skip
def test_small_times_are_relative(sent_s: float, resolved_s: float) -> None:
    assert resolve({"n": "a", "v": 1, "t": sent_s})[0].time_s == resolved_s


def test_base_time_and_time_add_before_they_are_judged_relative() -> None:
    assert resolve({"n": "a", "v": 1, "bt": T_S, "t": -5})[0].time_s == T_S - 5
    assert resolve({"n": "a", "v": 1, "bt": -10, "t": 4})[0].time_s == NOW_S - 6


# Section 4.5.4.
def test_base_value_is_added_and_stands_alone_when_there_is_no_value() -> None:
    records = resolve({"n": "a", "bv": 10, "v": 2.5}, {"n": "b", "v": -1}, {"n": "c"}, {"n": "d", "vs": "text"})
    assert [record.value for record in records] == [12.5, 9.0, 10.0, None]
    assert records[3].text == "text"


def test_base_sum_is_added_and_stands_alone_when_there_is_no_sum() -> None:
    records = resolve({"n": "a", "bs": 100, "s": 5}, {"n": "b", "v": 1})
    assert [(record.value, record.sum) for record in records] == [(None, 105.0), (1.0, 100.0)]


# Section 4.1: a base field holds until the next record that has the same one.
def test_each_base_field_holds_until_it_is_given_again() -> None:
    records = resolve(
        {"bn": "a/", "bu": "kg", "bt": T_S, "n": "x", "v": 1},
        {"bu": "g", "n": "y", "v": 2},
        {"bn": "b/", "n": "z", "v": 3, "u": "Pa"},
        {"bt": T_S + 9, "n": "w", "v": 4},
    )
    assert [(r.name, r.unit, r.time_s) for r in records] == [
        ("a/x", "kg", T_S), ("a/y", "g", T_S), ("b/z", "Pa", T_S), ("b/w", "g", T_S + 9),
    ]  # fmt: skip


def test_a_unit_of_the_base_is_not_pinned_on_a_flag() -> None:
    assert resolve({"bu": "kg", "n": "a", "vb": True})[0] == Record("a", NOW_S, flag=True)


# Section 4.4: what is unknown is ignored, unless its label ends in an underscore.
def test_unknown_labels_are_ignored_and_those_with_an_underscore_refused() -> None:
    assert resolve({"n": "a", "v": 1, "colour": [1, {}]}) == (Record("a", NOW_S, value=1.0),)
    assert refusal({"n": "a", "v": 1, "colour_": 1}).field == "/0/colour_"


def test_a_pointer_escapes_what_rfc_6901_section_3_says() -> None:
    assert refusal({"n": "a", "v": 1, "x/y~z_": 1}).field == "/0/x~1y~0z_"


# Section 4.4: a version above the one understood is not used. 26 is 10 and secondary units: RFC 9100 section 4, from
# memory.
@pytest.mark.parametrize("version", [1, 5, 9, 10, 26])
def test_versions_understood(version: int) -> None:
    assert resolve({"n": "a", "v": 1, "bver": version}) == (Record("a", NOW_S, value=1.0),)


@pytest.mark.parametrize("version", [11, 42, 0, -1, 10.0, "10", True, None, 10**400])
def test_versions_refused(version: object) -> None:
    assert refusal({"n": "a", "v": 1, "bver": version}).field == "/0/bver"


REFUSED: list[tuple[list[object], str]] = [
    ([{"n": "a"}], "/0"),
    ([{"n": "a", "t": 5}], "/0"),
    ([{"n": "a", "v": 1}, {"n": "b", "u": "kg"}], "/1"),
    ([{"n": "a", "v": 1, "vs": "x"}], "/0/vs"),
    ([{"n": "a", "vb": True, "vd": "eA"}], "/0/vd"),
    ([{"v": 1}], "/0/n"),
    ([{"n": "", "v": 1}], "/0/n"),
    ([{"n": "/a", "v": 1}], "/0/n"),
    ([{"n": "_a", "v": 1}], "/0/n"),
    ([{"n": "a b", "v": 1}], "/0/n"),
    ([{"n": "bäy/scale", "v": 1}], "/0/n"),
    ([{"n": "a\n", "v": 1}], "/0/n"),
    ([{"n": 5, "v": 1}], "/0/n"),
    ([{"bn": None, "n": "a", "v": 1}], "/0/bn"),
    ([{"n": "a", "v": "1"}], "/0/v"),
    ([{"n": "a", "v": None}], "/0/v"),
    ([{"n": "a", "v": True}], "/0/v"),
    ([{"n": "a", "v": [1]}], "/0/v"),
    ([{"n": "a", "vb": 1}], "/0/vb"),
    ([{"n": "a", "vb": "true"}], "/0/vb"),
    ([{"n": "a", "vs": 5}], "/0/vs"),
    ([{"n": "a", "vs": "\ud800"}], "/0/vs"),
    ([{"n": "a", "v": 1, "u": 5}], "/0/u"),
    ([{"n": "a", "v": 1, "t": "now"}], "/0/t"),
    ([{"n": "a", "v": math.nan}], "/0/v"),
    ([{"n": "a", "v": math.inf}], "/0/v"),
    ([{"n": "a", "v": 10**400}], "/0/v"),
    ([{"n": "a", "v": 1.7e308, "bv": 1.7e308}], "/0/v"),
    ([{"n": "a", "s": -1.7e308, "bs": -1.7e308}], "/0/s"),
    ([{"n": "a", "v": 1, "bt": 1.7e308, "t": 1.7e308}], "/0/t"),
    ([{"n": "a", "v": 1, "t": T_S * 1000}], "/0/t"),
    ([{"n": "a", "v": 1, "t": -1e12}], "/0/t"),
    ([5], "/0"),
    ([[]], "/0"),
    ([None], "/0"),
    ([], ""),
]


@pytest.mark.parametrize(("pack", "field"), REFUSED, ids=lambda value: str(value)[:60])
def test_every_refusal_names_the_field_and_what_would_do(pack: list[object], field: str) -> None:
    error = refusal(*pack)
    assert error.field == field
    assert error.problem
    assert error.accepted
    assert error.problem in str(error)
    assert error.accepted in str(error)


@pytest.mark.parametrize("raw", [None, 5, "text", {}, {"n": "a", "v": 1}, True])
def test_a_pack_is_an_array(raw: object) -> None:
    with pytest.raises(SenmlError, match="array"):
        senml.resolve(raw, now_s=NOW_S)


@pytest.mark.parametrize(
    "text",
    [
        "", "[", "{}", "null", '[{"n":"a","v":NaN}]', '[{"n":"a","v":Infinity}]', '[{"n":"a","v":-Infinity}]',
        '[{"n":"a","v":1e999}]', '[{"n":"a","v":' + "9" * 5000 + "}]", "[" * 100_000, '[{"n":"a","v":1}]]',
        b"\xff\xfe[", b'[{"n":"\xff","v":1}]',
    ],
    ids=lambda text: repr(text[:24]),
)  # fmt: skip
def test_text_that_is_no_pack_is_refused(text: str | bytes) -> None:
    with pytest.raises(SenmlError):
        senml.decode(text, now_s=NOW_S)


@pytest.mark.parametrize("depth", [50, 900, 960, 980, 990])
@pytest.mark.parametrize("label", ["v", "n", "x_", "free"])
def test_a_value_nested_deep_is_no_accident(depth: int, label: str) -> None:
    pack = f'[{{"n":"a","v":1,"{label}":{"[" * depth}{"]" * depth}}}]'
    try:
        records = senml.decode(pack, now_s=NOW_S)
    except SenmlError as error:
        assert len(str(error)) < 500  # noqa: PT017 - both answers are right, a crash is not
    else:
        assert label == "free"
        assert records == (Record("a", NOW_S, value=1.0),)


def test_a_long_value_of_the_wrong_type_makes_no_long_message() -> None:
    assert len(str(refusal({"n": "a", "v": "x" * 1_000_000}))) < 500
    assert len(str(refusal({"n": "ä" * 1_000_000, "v": 1}))) < 500


def test_encode_refuses_what_json_cannot_say() -> None:
    with pytest.raises(ValueError, match="JSON"):
        senml.encode([Record("a", NOW_S, value=math.nan)])


def test_encode_lines_writes_one_pack_a_line() -> None:
    packs = [[Record("a", T_S, text="two\nlines\u2028")], [Record("b", T_S, flag=True), Record("c", T_S, value=0.5)]]
    lines = list(senml.encode_lines(packs))
    assert [line.count("\n") for line in lines] == [1, 1]
    assert [list(senml.decode(line, now_s=NOW_S)) for line in lines] == packs
    assert json.loads(lines[1]) == [{"n": "b", "t": T_S, "vb": True}, {"n": "c", "t": T_S, "v": 0.5}]
