"""A clock that never steps, whatever the wall clock does."""

from __future__ import annotations

import math
from dataclasses import dataclass

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.wire.clock import Clock


@dataclass
class World:
    """A wall clock that can be set and an elapsed time that only goes on."""

    wall_s: float = 1_790_000_000.0
    elapsed_s: float = 50.0

    def passes(self, seconds: float, *, wall_jumps_s: float = 0.0) -> None:
        self.wall_s += seconds + wall_jumps_s
        self.elapsed_s += seconds

    def clock(self, *, epoch_s: float | None = None, speed: float = 1.0) -> Clock:
        return Clock(epoch_s=epoch_s, speed=speed, wall=lambda: self.wall_s, elapsed=lambda: self.elapsed_s)


@pytest.mark.parametrize("jump_s", [3600.0, -3600.0, -1e9])
def test_a_wall_clock_that_is_set_moves_nothing(jump_s: float) -> None:
    world = World()
    clock = world.clock()
    assert clock.now_s() == 1_790_000_000.0
    world.passes(2.0, wall_jumps_s=jump_s)
    assert clock.now_s() == 1_790_000_002.0


def test_two_clocks_of_one_epoch_and_speed_share_the_time_though_one_started_later() -> None:
    world = World()
    epoch_s = world.wall_s
    first = world.clock(epoch_s=epoch_s, speed=20.0)
    world.passes(7.0)
    second = world.clock(epoch_s=epoch_s, speed=20.0)
    assert first.now_s() == second.now_s() == epoch_s + 140.0
    world.passes(0.25)
    assert first.now_s() == second.now_s() == epoch_s + 145.0


def test_speed_turns_clock_seconds_into_real_ones() -> None:
    assert World().clock(speed=8.0).real_s(4.0) == 0.5


@given(st.lists(st.tuples(st.floats(0.0, 1e5), st.floats(-1e6, 1e6))), st.floats(0.01, 1000.0))
def test_the_clock_never_goes_back(steps: list[tuple[float, float]], speed: float) -> None:
    world = World()
    clock = world.clock(speed=speed)
    before = clock.now_s()
    for seconds, jump in steps:
        world.passes(seconds, wall_jumps_s=jump)
        after = clock.now_s()
        assert after >= before
        before = after


def test_time_is_rounded_to_the_microsecond() -> None:
    world = World(elapsed_s=0.0)
    clock = world.clock()
    world.passes(1 / 3)
    assert clock.now_s() == 1_790_000_000.333333


@pytest.mark.parametrize("speed", [0.0, -1.0, math.nan])
def test_a_speed_that_is_not_above_zero_is_refused(speed: float) -> None:
    with pytest.raises(ValueError, match="above zero"):
        Clock(speed=speed)


def test_the_real_clock_goes_forward_from_the_wall_time() -> None:
    clock = Clock()
    readings = [clock.now_s() for _ in range(100)]
    assert readings == sorted(readings)
    assert readings[0] > 1.7e9
