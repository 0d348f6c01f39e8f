"""Bytes into lines: nothing before the first end, nothing too long, nothing that is no text."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillmark_agent.edge.outcome import Fault, FaultKind
from fillmark_agent.scales.lines import LONGEST, LineCutter


def cut(*chunks: bytes) -> list[str | FaultKind]:
    cutter = LineCutter()
    return [line.kind if isinstance(line, Fault) else line for chunk in chunks for line in cutter.feed(chunk)]


def test_a_line_that_lost_its_beginning_is_dropped() -> None:
    assert cut(b"2.345 kg\r\n12.345 kg\r\n") == ["12.345 kg"]


@pytest.mark.parametrize("end", [b"\r", b"\n", b"\r\n", b"\n\r", b"\x03\r\n"])
def test_any_end_and_any_cut(end: bytes) -> None:
    data = end + b"\x02 12.345 kg" + end + b"12.346 kg" + end
    assert cut(data) == ["12.345 kg", "12.346 kg"]
    assert cut(*(data[at : at + 1] for at in range(len(data)))) == ["12.345 kg", "12.346 kg"]


def test_an_endless_line_is_told_once_and_keeps_no_memory() -> None:
    cutter = LineCutter()
    assert list(cutter.feed(b"\n")) == []
    told = [one for _ in range(1000) for one in cutter.feed(b"8" * 100)]
    assert [one.kind for one in told if isinstance(one, Fault)] == [FaultKind.OVERSIZED]
    assert len(cutter._kept) <= LONGEST + 100
    assert list(cutter.feed(b"8\n1 g\n")) == ["1 g"]


def test_noise_of_a_wrong_baud_rate_is_a_fault() -> None:
    assert cut(b"\n", b"\x80\xfe\x12\n1 g\n") == [FaultKind.UNREADABLE, "1 g"]


@settings(max_examples=200, deadline=None)
@given(st.lists(st.binary(max_size=300), max_size=6))
def test_the_cut_does_not_depend_on_the_chunks(chunks: list[bytes]) -> None:
    whole = b"".join(chunks)
    one_by_one = [whole[at : at + 1] for at in range(len(whole))]
    assert cut(*chunks) == cut(*one_by_one)
    assert all(len(line) <= LONGEST for line in cut(whole) if isinstance(line, str))
