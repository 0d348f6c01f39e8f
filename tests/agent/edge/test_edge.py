"""The edge of a channel: corrected and raw, the user's settings, and every bad input a clear event, never a number."""

from __future__ import annotations

import json
import logging
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.wire import channels
from fillmark.wire.senml import Record
from fillmark_agent.edge.channel_table import ChannelTable
from fillmark_agent.edge.edge import Edge
from fillmark_agent.edge.outcome import Fault, FaultKind, Measurement, Outcome

T0 = 1_800_000_000.0


def edge(channel: str = "scale/mass", **more: object) -> Edge:
    return Edge(ChannelTable.model_validate({"channel": channel} | more), "bay-1")


def values(records: tuple[Record, ...]) -> dict[str, object]:
    """Name below the bay to value, with the unit where there is one."""
    return {
        r.name.removeprefix("bay-1/"): r.value if r.value is not None else r.flag if r.flag is not None else r.text
        for r in records
    }


@pytest.mark.parametrize(
    ("channel", "given", "inside"),
    [
        ("scale/mass", Measurement(1.0, "lb"), 0.45359237),  # exact by the agreement of 1959; NIST SP 811, B.8
        ("scale/mass", Measurement(16.0, "oz"), 0.45359237),
        ("low/pressure", Measurement(1.0, "psi"), 6894.757),  # NIST SP 811, B.8
        ("low/pressure", Measurement(1.0, "inHg"), 3386.389),
        ("vent/temperature", Measurement(50.0, "degF"), 10.0),
        ("vent/temperature", Measurement(300.0, "K"), 26.85),
        ("ambient/humidity", Measurement(41.0, "%"), 41.0),
    ],
)
def test_a_unit_of_the_right_kind_becomes_the_one_inside(channel: str, given: Measurement, inside: float) -> None:
    (record,) = edge(channel).take(given, T0)
    assert record.value == pytest.approx(inside, rel=1e-6)
    assert record.unit == channels.QUANTITIES[channel.rpartition("/")[2]].unit


def test_raw_and_corrected_travel_together_and_the_calibration_once() -> None:
    calibration = {"zero": 0.010, "span": 1.002, "date": "2026-03-14", "uncertainty": 0.0004, "reference": "2 kg"}
    calibrated = edge(calibration=calibration)
    first = calibrated.take(Measurement(1.010, "kg"), T0)
    assert values(first[1:]) == {"scale/mass": pytest.approx(1.002), "scale/mass/raw": 1.010}
    assert first[0].name == "bay-1/scale/mass/calibration"
    assert json.loads(first[0].text or "") == calibration
    assert {record.time_s for record in first} == {T0}
    assert len(calibrated.take(Measurement(1.010, "kg"), T0 + 1)) == 2
    assert list(values(edge().take(Measurement(1.010, "kg"), T0))) == ["scale/mass"]


def test_net_and_gauge_are_the_users_to_say() -> None:
    net = edge(load="net", tare="1.2 kg").take(Measurement(0.3, "kg"), T0)
    assert values(net) == {"scale/mass": 1.5, "scale/mass/raw": 0.3}
    gauge = edge("low/pressure", reference="gauge", air_pressure="1013.25 hPa").take(Measurement(2.0, "bar"), T0)
    assert values(gauge) == {"low/pressure": 301325.0, "low/pressure/raw": 200000.0}


@pytest.mark.parametrize(
    ("channel", "more", "says"),
    [
        ("scale/mass", {"load": "net"}, "needs its tare"),
        ("low/pressure", {"reference": "gauge"}, "declare the channel gauge when the job is opened"),
        ("vent/temperature", {"load": "net", "tare": 1}, "is for a mass"),
        ("scale/stable", {"least": 0}, "a flag has no limits"),
        ("scale/mass", {"tare": "1 bar"}, "no unit of mass"),
        ("scale/colour", {}, "should match pattern"),
        ("mass", {}, "should match pattern"),
    ],
)
def test_settings_without_meaning_are_refused(channel: str, more: dict[str, Any], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        edge(channel, **more)


BAD: dict[str, tuple[str, list[Outcome], FaultKind]] = {
    "a decoder's fault": ("scale/mass", [Fault(FaultKind.UNSUCCESSFUL, "no")], FaultKind.UNSUCCESSFUL),
    "a unit of another kind": ("scale/mass", [Measurement(1.0, "psi")], FaultKind.IMPOSSIBLE_UNIT),
    "no unit": ("scale/mass", [Measurement(1.0, None)], FaultKind.IMPOSSIBLE_UNIT),
    "a gauge unit": ("low/pressure", [Measurement(1.0, "psig")], FaultKind.IMPOSSIBLE_UNIT),
    "a flag for a number": ("scale/mass", [Measurement(True, None)], FaultKind.IMPOSSIBLE_UNIT),
    "a number for a flag": ("scale/stable", [Measurement(1.0, "kg")], FaultKind.IMPOSSIBLE_UNIT),
    "not a number": ("scale/mass", [Measurement(float("nan"), "kg")], FaultKind.NOT_A_NUMBER),
    "more than a sensor can show": ("low/pressure", [Measurement(41e6, "Pa")], FaultKind.OUT_OF_RANGE),
    "another unit in mid-stream": (
        "scale/mass", [Measurement(2.0, "kg"), Measurement(4.4, "lb")], FaultKind.UNIT_CHANGED,
    ),
    "pounds under the name of kilograms": (
        "scale/mass", [Measurement(v, "kg") for v in (2.3, 2.3, 2.3 / 0.45359237)], FaultKind.UNIT_SUSPECTED,
    ),
    "kilopascals under the name of pascals": (
        "low/pressure", [Measurement(v, "Pa") for v in (3.1e5, 3.1e5, 310.0 * 1e5)], FaultKind.UNIT_SUSPECTED,
    ),
    "fahrenheit under the name of celsius": (
        "vent/temperature", [Measurement(v, "Cel") for v in (8.0, 8.0, 46.4)], FaultKind.UNIT_SUSPECTED,
    ),
}  # fmt: skip


@pytest.mark.parametrize(("channel", "outcomes", "kind"), BAD.values(), ids=BAD)
def test_bad_input_is_a_clear_event_and_never_a_number(
    channel: str, outcomes: list[Outcome], kind: FaultKind, caplog: pytest.LogCaptureFixture
) -> None:
    watched = edge(channel)
    *good, bad = outcomes
    for number, outcome in enumerate(good):
        assert [record.name for record in watched.take(outcome, T0 + number)] == [f"bay-1/{channel}"]
    (event,) = watched.take(bad, T0 + 9)
    assert (event.name, event.value) == (f"bay-1/{channel}/fault", None)
    assert (event.text or "").startswith(f"{kind}: ")
    assert watched.fault is kind
    assert [record.levelno for record in caplog.records] == [logging.WARNING]
    assert watched.take(bad, T0 + 10) == ()


def test_a_fault_that_lasts_is_told_every_other_second_so_that_the_device_does_not_look_silent(
    caplog: pytest.LogCaptureFixture,
) -> None:
    watched, fault = edge(), Fault(FaultKind.UNSUCCESSFUL, "no")
    told = [bool(watched.take(fault, T0 + step / 2)) for step in range(10)]
    assert told == [True, False, False, False, True, False, False, False, True, False]
    assert len(caplog.records) == 1


def test_a_fault_that_ends_is_told_with_the_first_good_value() -> None:
    watched = edge()
    watched.take(Fault(FaultKind.TRUNCATED, "short"), T0)
    assert values(watched.take(Measurement(1.0, "kg"), T0 + 1)) == {"scale/mass": 1.0, "scale/mass/fault": "none"}
    assert values(watched.take(Measurement(1.0, "kg"), T0 + 2)) == {"scale/mass": 1.0}


def test_a_suspected_unit_is_trusted_again_when_it_reads_as_before() -> None:
    watched = edge()
    for number, value in enumerate((2.3, 2.3, 5.0706, 5.06)):
        records = watched.take(Measurement(value, "kg"), T0 + number)
    assert records == ()
    assert values(watched.take(Measurement(2.29, "kg"), T0 + 5)) == {"scale/mass": 2.29, "scale/mass/fault": "none"}


@pytest.mark.parametrize("steps", [(2.3, 2.3, 4.6), (2.3, 3.5, 5.0706), (0.002, 0.002, 2.0), (2.3, 2.3, 2.3)])
def test_true_changes_of_mass_are_not_suspected(steps: tuple[float, ...]) -> None:
    watched = edge()
    for number, value in enumerate(steps):
        assert values(watched.take(Measurement(value, "kg"), T0 + number)) == {"scale/mass": value}


def test_readings_of_one_moment_stay_apart() -> None:
    watched = edge()
    times = [watched.take(Measurement(1.0, "kg"), at)[0].time_s for at in (T0, T0, T0 - 1.0, T0 + 1.0)]
    assert times == [T0, T0 + 1e-6, T0 + 2e-6, T0 + 1.0]


@given(
    st.sampled_from(["scale/mass", "low/pressure", "vent/temperature", "ambient/humidity", "scale/stable"]),
    st.lists(
        st.one_of(
            st.builds(Measurement, st.floats(), st.sampled_from(["kg", "lb", "psi", "Cel", "degF", "%RH", "", None])),
            st.builds(Measurement, st.booleans(), st.none()),
            st.builds(Fault, st.sampled_from(FaultKind), st.text(max_size=20)),
        ),
        max_size=20,
    ),
)
def test_whatever_a_device_says_every_number_leaves_with_its_unit_and_within_limits(
    channel: str, outcomes: list[Outcome]
) -> None:
    watched = edge(channel)
    for outcome in outcomes:
        for record in watched.take(outcome, T0):
            if record.value is not None:
                assert channels.normalise(record) == record
                assert record.unit
