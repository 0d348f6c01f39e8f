"""A recorded stream keeps its rhythm, at any speed, on any clock."""

from __future__ import annotations

import json
import tempfile
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillmark.wire.clock import Clock
from fillmark.wire.senml import Record, encode_lines
from fillmark_agent.device import DeviceBrokenError, Pack, Sleep
from fillmark_agent.drivers.recorded import RecordedDevice, Recording

BEGIN_S = 1_700_000_000.0
NOW_S = 1_800_000_000.0
NAME = "bay-1/scale/mass"
MakeClock = Callable[[float], Clock]


def mass(time_s: float, name: str = NAME) -> Record:
    return Record(name, round(BEGIN_S + time_s, 6), unit="kg", value=9.0)


@pytest.fixture
def stream(tmp_path: Path) -> Path:
    """Readings at 0, 1, 2 s; the third line comes late with a reading of 0.5 s in it; an action at 4 s."""
    path = tmp_path / "one.senml.jsonl"
    action = Record("bay-1/action", BEGIN_S + 4.0, text='{"type":"valve","valve":"low","open":true}')
    packs = [(mass(0),), (mass(1), mass(1, "bay-1/low/pressure")), (mass(0.5), mass(2)), (mass(1.5),), (action,)]
    path.write_text("".join(encode_lines(packs)) + "\n", encoding="utf-8")
    return path


async def play(device: RecordedDevice, clock: Clock) -> list[tuple[float, Pack]]:
    """Each pack with the clock's time at which it came, seconds after the start."""
    await device.find()
    await device.connect()
    came = [(round(clock.now_s() - NOW_S, 6), pack) async for pack in device.samples()]
    await device.disconnect()
    return came


def times(came: list[tuple[float, Pack]], zero_s: float) -> list[list[float]]:
    return [[round(record.time_s - zero_s, 6) for record in pack] for _, pack in came]


async def test_lines_come_at_the_latest_time_seen_and_are_restamped(
    stream: Path, make_clock: MakeClock, sleep: Sleep
) -> None:
    clock = make_clock(1.0)
    came = await play(RecordedDevice(Recording(stream, "r"), clock, sleep=sleep), clock)
    assert [at for at, _ in came] == [0.0, 1.0, 2.0, 2.0, 4.0]
    assert times(came, NOW_S) == [[0.0], [1.0, 1.0], [0.5, 2.0], [1.5], [4.0]]
    assert came[-1][1][0].text == '{"type":"valve","valve":"low","open":true}'


async def test_ten_times_the_pace_shortens_every_distance(stream: Path, make_clock: MakeClock, sleep: Sleep) -> None:
    clock = make_clock(1.0)
    came = await play(RecordedDevice(Recording(stream, "r", speed=10.0), clock, sleep=sleep), clock)
    assert [at for at, _ in came] == [0.0, 0.1, 0.2, 0.2, 0.4]
    assert times(came, NOW_S) == [[0.0], [0.1, 0.1], [0.05, 0.2], [0.15], [0.4]]


async def test_a_faster_clock_takes_less_real_time_for_the_same_stamps(
    stream: Path, make_clock: MakeClock, sleep: Sleep, slept: list[float]
) -> None:
    clock = make_clock(20.0)
    came = await play(RecordedDevice(Recording(stream, "r"), clock, sleep=sleep), clock)
    assert times(came, NOW_S) == [[0.0], [1.0, 1.0], [0.5, 2.0], [1.5], [4.0]]
    assert sum(slept) == pytest.approx(4.0 / 20.0)


async def test_original_times_are_kept_at_the_recorded_pace(stream: Path, make_clock: MakeClock, sleep: Sleep) -> None:
    clock = make_clock(1.0)
    came = await play(RecordedDevice(Recording(stream, "r", restamp=False), clock, sleep=sleep), clock)
    assert [at for at, _ in came] == [0.0, 1.0, 2.0, 2.0, 4.0]
    assert times(came, BEGIN_S) == [[0.0], [1.0, 1.0], [0.5, 2.0], [1.5], [4.0]]


async def test_without_a_pace_nothing_waits_and_times_are_the_original_ones(
    stream: Path, make_clock: MakeClock, sleep: Sleep, slept: list[float]
) -> None:
    clock = make_clock(1.0)
    recording = Recording(stream, "r", speed=None, restamp=False, bay="bay-7")
    came = await play(RecordedDevice(recording, clock, sleep=sleep), clock)
    assert sum(slept) == 0.0
    assert times(came, BEGIN_S) == [[0.0], [1.0, 1.0], [0.5, 2.0], [1.5], [4.0]]
    assert {record.name.partition("/")[0] for _, pack in came for record in pack} == {"bay-7"}
    assert came[-1][1][0].name == "bay-7/action"


@pytest.mark.parametrize(("speed", "restamp"), [(0.0, True), (-1.0, True), (float("nan"), True), (None, True)])
def test_a_pace_without_meaning_is_refused(speed: float | None, restamp: bool) -> None:
    with pytest.raises(ValueError, match=r"give|keep"):
        Recording(Path("x"), "r", speed, restamp)


async def test_a_broken_line_is_named(tmp_path: Path, make_clock: MakeClock, sleep: Sleep) -> None:
    path = tmp_path / "bad.senml.jsonl"
    path.write_text('[{"n":"bay-1/scale/mass","t":1.7e9,"v":1,"u":"kg"}]\n\n[{"n":"x/y"}]\n', encoding="utf-8")
    clock = make_clock(1.0)
    with pytest.raises(DeviceBrokenError, match=r"bad\.senml\.jsonl:3: /0: the record has no value"):
        await play(RecordedDevice(Recording(path, "r"), clock, sleep=sleep), clock)


async def test_a_missing_file_is_named(tmp_path: Path, make_clock: MakeClock, sleep: Sleep) -> None:
    with pytest.raises(DeviceBrokenError, match=r"no file .*gone\.senml\.jsonl; give"):
        await RecordedDevice(Recording(tmp_path / "gone.senml.jsonl", "r"), make_clock(1.0), sleep=sleep).find()


async def test_rfc_8428_base_fields_are_resolved_before_restamping(
    tmp_path: Path, make_clock: MakeClock, sleep: Sleep
) -> None:
    """The example of RFC 8428 section 5.1.2 (values from memory) on one line: its readings arrive with the last."""
    path = tmp_path / "rfc.senml.jsonl"
    line = [
        {"bn": "urn:dev:ow:10e2073a0108006:", "bt": 1.276020076001e09, "bu": "A", "bver": 5, "n": "voltage",
         "u": "V", "v": 120.1},
        {"n": "current", "t": -5, "v": 1.2}, {"n": "current", "t": -4, "v": 1.3},
        {"n": "current", "t": -3, "v": 1.4}, {"n": "current", "t": -2, "v": 1.5},
        {"n": "current", "t": -1, "v": 1.6}, {"n": "current", "v": 1.7},
    ]  # fmt: skip
    del line[0]["bver"]  # the example's version 5 is older than the registered 10
    path.write_text(json.dumps(line), encoding="utf-8")
    clock = make_clock(1.0)
    came = await play(RecordedDevice(Recording(path, "r"), clock, sleep=sleep), clock)
    assert times(came, NOW_S) == [[0.0, -5.0, -4.0, -3.0, -2.0, -1.0, 0.0]]


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.lists(st.integers(0, 5000), min_size=1, max_size=4), min_size=1, max_size=12),
    st.sampled_from([1.0, 3.0, 50.0]),
)
async def test_restamping_keeps_distances_and_never_makes_two_readings_one(
    milliseconds: list[list[int]], speed: float
) -> None:
    now = [0.0]

    async def sleep(seconds: float) -> None:
        now[0] += seconds * 1.01  # always a little late

    clock = Clock(wall=lambda: NOW_S, elapsed=lambda: now[0])
    packs = [tuple(mass(each / 1000) for each in line) for line in milliseconds]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "any.senml.jsonl"
        path.write_text("".join(encode_lines(packs)), encoding="utf-8")
        came = await play(RecordedDevice(Recording(path, "r", speed), clock, sleep=sleep), clock)
    before = [record.time_s for pack in packs for record in pack]
    after = [record.time_s for _, pack in came for record in pack]
    assert len(set(after)) == len(set(before))
    assert all(
        (late - after[0]) * speed == pytest.approx(early - before[0], abs=1e-4)
        for early, late in zip(before, after, strict=True)
    )
    assert all(record.time_s - NOW_S <= at + 1e-6 for at, pack in came for record in pack)
