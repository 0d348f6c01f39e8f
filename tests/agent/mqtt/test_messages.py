"""SenML from a broker: names by the topic, faults instead of doubtful numbers."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError

from fillmark.wire import channels
from fillmark.wire.senml import Record
from fillmark_agent.mqtt.messages import LONGEST, Messages
from fillmark_agent.mqtt.table import MqttTable, TopicTable

NOW_S = 1_800_000_000.0
PROBES = TopicTable(topic="shop/probes/#")
SCALE = TopicTable(topic="shop/scale", prefix="scale/")
CLAMP = TopicTable(topic="shop/clamp", channel="suction/temperature")


@pytest.fixture
def messages() -> Messages:
    return Messages("bay-1/shop", "bay-1")


def sent(messages: Messages, topic: TopicTable, pack: object, *, retained: bool = False) -> list[tuple[str, object]]:
    payload = pack if isinstance(pack, bytes) else json.dumps(pack).encode()
    found = messages.pack(topic, payload, NOW_S, retained=retained)
    return [(r.name, r.text.partition(":")[0] if r.text is not None else r.value) for r in found]


def test_names_come_from_the_record_the_prefix_or_the_channel(messages: Messages) -> None:
    low = {"n": "low/pressure", "u": "Pa", "v": 310000}
    assert sent(messages, PROBES, [low]) == [("bay-1/low/pressure", 310000.0)]
    assert sent(messages, SCALE, [{"n": "mass", "u": "g", "v": 1214}]) == [("bay-1/scale/mass", 1214.0)]
    assert sent(messages, CLAMP, [{"n": "t1", "u": "Cel", "v": 4.5}]) == [("bay-1/suction/temperature", 4.5)]


def test_a_reading_keeps_its_own_time_and_its_unit(messages: Messages) -> None:
    pack = [
        {"bn": "low/", "bt": NOW_S - 30, "n": "pressure", "u": "Pa", "v": 1},
        {"n": "pressure", "u": "hPa", "t": 5, "v": 2},
    ]
    found = messages.pack(PROBES, json.dumps(pack).encode(), NOW_S, retained=False)
    assert found == (
        Record("bay-1/low/pressure", NOW_S - 30, unit="Pa", value=1.0),
        Record("bay-1/low/pressure", NOW_S - 25, unit="hPa", value=2.0),
    )


@pytest.mark.parametrize(
    ("topic", "pack", "told"),
    [
        (PROBES, b"21.5", [("bay-1/shop/fault", "unreadable")]),
        (PROBES, b"\xff\xfe", [("bay-1/shop/fault", "unreadable")]),
        (PROBES, b'[{"n":"low/pressure","u":"Pa","v":NaN}]', [("bay-1/shop/fault", "unreadable")]),
        (PROBES, b'[{"n":"low/pressure","u":"Pa","v":1', [("bay-1/shop/fault", "unreadable")]),
        (PROBES, b"[" * (LONGEST + 1), [("bay-1/shop/fault", "oversized")]),
        (PROBES, b"[" * 60_000, [("bay-1/shop/fault", "unreadable")]),
        (PROBES, [{"n": "low/pressure", "v": 3e5}], [("bay-1/low/pressure/fault", "unreadable")]),
        (PROBES, [{"n": "low/pressure", "u": "kg", "v": 3e5}], [("bay-1/low/pressure/fault", "unreadable")]),
        (PROBES, [{"n": "low/pressure", "u": "Pa", "v": 3e9}], [("bay-1/low/pressure/fault", "out-of-range")]),
        (PROBES, [{"n": "action", "vs": '{"type":"job.close"}'}], [("bay-1/action/fault", "unreadable")]),
        (
            CLAMP,
            [{"n": "t1", "u": "Cel", "v": 1}, {"n": "t2", "u": "Cel", "v": 2}],
            [("bay-1/shop/fault", "unreadable")],
        ),
    ],
)
def test_what_is_no_reading_is_a_fault(
    messages: Messages, topic: TopicTable, pack: object, told: list[tuple[str, object]]
) -> None:
    assert sent(messages, topic, pack) == told
    assert sent(messages, topic, pack) == []


def test_a_retained_message_is_no_reading_for_nobody_knows_its_age(messages: Messages) -> None:
    low = [{"n": "low/pressure", "u": "Pa", "v": 310000}]
    assert sent(messages, PROBES, low, retained=True) == [("bay-1/shop/fault", "stale")]
    assert sent(messages, PROBES, low) == [("bay-1/shop/fault", "none"), ("bay-1/low/pressure", 310000.0)]


def test_one_bad_record_does_not_cost_the_good_ones(messages: Messages) -> None:
    good, bad = {"n": "low/pressure", "u": "Pa", "v": 3e5}, {"n": "high/pressure", "u": "Pa", "v": 3e9}
    assert sent(messages, PROBES, [bad, good]) == [
        ("bay-1/high/pressure/fault", "out-of-range"), ("bay-1/low/pressure", 3e5),
    ]  # fmt: skip
    assert sent(messages, PROBES, [{**bad, "v": 1e6}])[-1] == ("bay-1/high/pressure/fault", "none")


@pytest.mark.parametrize("topic", ["", "a/#/b", "a#", "a+/b", "$share/g/t", "a/b+"])
def test_a_topic_that_is_none_is_refused(topic: str) -> None:
    with pytest.raises(ValidationError, match="topic filter"):
        TopicTable(topic=topic)


@pytest.mark.parametrize("topic", ["a", "+", "#", "a/+/b", "a/#", "/a", "+/+"])
def test_a_topic_filter_is_taken(topic: str) -> None:
    assert TopicTable(topic=topic).topic == topic


@pytest.mark.parametrize("url", ["", "127.0.0.1", "http://h", "mqtt://", "mqtt://h/path", "mqtt://h:0", "mqtt://u:p@h"])
def test_a_broker_that_is_none_is_refused(url: str) -> None:
    with pytest.raises(ValidationError, match="no address of a broker"):
        MqttTable(driver="mqtt", name="shop", broker=url, topics=(PROBES,))


def test_the_ports_are_the_registered_ones() -> None:
    """IANA service name registry: mqtt 1883, secure-mqtt 8883."""
    made = [MqttTable(driver="mqtt", name="s", broker=url, topics=(PROBES,)) for url in ("mqtt://h", "mqtts://h")]
    assert [(table.port, table.encrypted) for table in made] == [(1883, False), (8883, True)]


def test_a_channel_and_a_prefix_exclude_each_other() -> None:
    with pytest.raises(ValidationError, match="exclude"):
        TopicTable(topic="a", channel="scale/mass", prefix="scale/")


SENML = st.lists(
    st.dictionaries(
        st.sampled_from(["n", "bn", "u", "v", "vb", "vs", "t", "bt"]),
        st.one_of(st.text(max_size=8), st.floats(), st.booleans(), st.sampled_from(["low/pressure", "Pa", "mass"])),
    ),
    max_size=4,
)


@settings(max_examples=300, deadline=None)
@given(st.one_of(st.binary(max_size=60), SENML.map(lambda pack: json.dumps(pack).encode())), st.booleans())
def test_no_exception_and_no_value_without_a_unit(payload: bytes, retained: bool) -> None:
    for topic in (PROBES, SCALE, CLAMP):
        for record in Messages("bay-1/shop", "bay-1").pack(topic, payload, NOW_S, retained=retained):
            kind = channels.QUANTITIES.get(channels.parse(record.name).quantity)
            if kind is not None and kind.unit is not None:
                assert record.unit in {kind.unit, *kind.factors}
                assert not retained
