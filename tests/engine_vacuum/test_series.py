from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.engine.vacuum.series import Sample, SampleRefusedError, Series, series_of


def long_series(count: int, every_s: float = 1.0, limit: int = 600) -> Series:
    return series_of(((i * every_s, 100.0 + i, None) for i in range(count)), limit=limit)


def test_keeps_everything_while_there_is_room() -> None:
    assert [s.pressure_pa for s in long_series(600).samples] == [100.0 + i for i in range(600)]


@given(st.integers(1, 5000), st.integers(10, 100))
def test_never_grows_beyond_its_bound_and_keeps_both_ends(count: int, limit: int) -> None:
    made = long_series(count, limit=limit)
    assert len(made.samples) <= limit + 1
    assert made.samples[0].time_s == 0.0
    assert made.samples[-1].time_s == count - 1
    assert made.duration_s == count - 1


@given(st.integers(50, 3000))
def test_stays_spread_over_the_whole_time(count: int) -> None:
    times = [s.time_s for s in long_series(count, limit=40).samples]
    gaps = [b - a for a, b in pairwise(times[:-1])]
    assert max(gaps) <= 2.0 * min(gaps)


def test_is_the_same_for_the_same_samples() -> None:
    assert long_series(2345) == long_series(2345)


@pytest.mark.parametrize(
    ("sample", "said"),
    [
        ((9.0, 5.0, None), "in order of time"),
        ((8.0, 5.0, None), "in order of time"),
        ((10.0, -1.0, None), "zero or more"),
        ((10.0, float("nan"), None), "zero or more"),
        ((float("inf"), 5.0, None), "zero or more"),
        ((10.0, 5.0, -3.0), "kelvin"),
    ],
)
def test_what_cannot_belong_is_refused_and_changes_nothing(
    sample: tuple[float, float, float | None], said: str
) -> None:
    made = long_series(10)
    with pytest.raises(SampleRefusedError, match=said):
        made.add(*sample)
    assert made == long_series(10)
    assert made.add(10.0, 5.0, 293.0).newest == Sample(10.0, 5.0, 293.0)


def test_an_empty_record_has_no_samples() -> None:
    assert Series().samples == ()
    assert Series().duration_s == 0.0
