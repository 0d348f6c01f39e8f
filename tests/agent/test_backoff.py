"""Full jitter: uniform between zero and a doubling, capped ceiling. Common practice, no source."""

from __future__ import annotations

import random

from hypothesis import given
from hypothesis import strategies as st

from fillmark_agent.backoff import Backoff


@given(st.integers(0, 2**32), st.integers(1, 200))
def test_every_wait_lies_below_its_ceiling(seed: int, attempts: int) -> None:
    backoff = Backoff(base_s=0.25, cap_s=10.0, rng=random.Random(seed))
    for attempt in range(attempts):
        assert 0.0 <= backoff.next_s() <= min(10.0, 0.25 * 2**attempt)


def test_waits_spread_over_the_whole_range_once_the_cap_is_reached() -> None:
    backoff = Backoff(base_s=0.25, cap_s=10.0, rng=random.Random(1))
    waits = [backoff.next_s() for _ in range(500)][10:]
    assert min(waits) < 1.0
    assert max(waits) > 9.0
    assert 4.5 < sum(waits) / len(waits) < 5.5


def test_a_reset_begins_small_again() -> None:
    backoff = Backoff(base_s=0.25, cap_s=10.0, rng=random.Random(1))
    for _ in range(20):
        backoff.next_s()
    backoff.reset()
    assert backoff.next_s() <= 0.25
