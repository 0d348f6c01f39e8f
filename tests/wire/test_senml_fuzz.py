"""Any JSON is either a pack or a SenmlError, and what is encoded is decoded again."""

from __future__ import annotations

import json
import math

from hypothesis import given, settings
from hypothesis import strategies as st

from fillmark.wire import channels, senml
from fillmark.wire.senml import Record, SenmlError

NOW_S = 1_790_000_000.0
LABELS = ["bn", "bt", "bu", "bv", "bs", "bver", "n", "u", "v", "vs", "vb", "vd", "s", "t", "ut", "x_", "x"]

scalars = (
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8) | st.sampled_from(["bay/scale/mass"])
)
values = st.recursive(scalars, lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner))
items = st.dictionaries(st.sampled_from(LABELS), values, max_size=6)

names = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9\-:./_]{0,20}", fullmatch=True)
numbers = st.floats(allow_nan=False, allow_infinity=False)
valued = st.one_of(
    st.fixed_dictionaries({"value": numbers}, optional={"unit": st.text(max_size=6), "sum": numbers}),
    st.fixed_dictionaries({"text": st.text()}),
    st.fixed_dictionaries({"flag": st.booleans()}),
    st.fixed_dictionaries({"data": st.text(alphabet="AZaz09-_")}),
    st.fixed_dictionaries({"sum": numbers}),
)
times = st.floats(min_value=2.0**28, max_value=2.0**39)
records = st.builds(
    lambda name, time_s, value, ut: Record(name, time_s, update_time_s=ut, **value),
    names, times, valued, st.none() | numbers,
)  # fmt: skip


def checked(record: Record) -> None:
    """Whatever is let through is sound."""
    assert record.name
    assert 0.0 <= record.time_s < senml.LATEST_TIME_S
    for number in (record.value, record.sum, record.update_time_s):
        assert number is None or math.isfinite(number)
    assert sum(x is not None for x in (record.value, record.text, record.flag, record.data)) <= 1
    json.loads(senml.encode([record]).encode())


@settings(max_examples=100, deadline=None)
@given(st.lists(items, max_size=4) | values)
def test_arbitrary_json_never_raises_anything_else(raw: object) -> None:
    try:
        found = senml.resolve(raw, now_s=NOW_S)
        for record in found:
            checked(record)
            channels.normalise(record, "/0")
    except SenmlError as error:
        assert error.field.startswith("/") or not error.field  # noqa: PT017
        assert error.problem  # noqa: PT017 - both answers are right
        assert error.accepted  # noqa: PT017


@settings(max_examples=200, deadline=None)
@given(st.text() | st.binary())
def test_arbitrary_text_never_raises_anything_else(text: str | bytes) -> None:
    try:
        senml.decode(text, now_s=NOW_S)
    except SenmlError as error:
        assert error.accepted  # noqa: PT017


@settings(max_examples=200, deadline=None)
@given(st.lists(records, min_size=1, max_size=5))
def test_round_trip(pack: list[Record]) -> None:
    assert senml.decode(senml.encode(pack), now_s=0.0) == tuple(pack)
    assert senml.decode(senml.encode(pack).encode(), now_s=NOW_S) == tuple(pack)
