"""Fixtures for the agent's tests: time that passes only when somebody sleeps, packs, spools."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator, Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from fillmark.wire.clock import Clock
from fillmark.wire.senml import Record
from fillmark_agent.async_spool import AsyncSpool
from fillmark_agent.device import Pack, Sleep
from fillmark_agent.spool import Limits, Spool

START_S = 1_800_000_000.0

MakePacks = Callable[[int, int], list[Pack]]
OpenSpool = Callable[..., Spool]
MakeClock = Callable[[float], Clock]


@dataclass
class SteppedTime:
    """Seconds that go by only in `sleep`."""

    now_s: float = 0.0
    slept: list[float] = field(default_factory=list)

    async def sleep(self, seconds: float) -> None:
        self.slept.append(seconds)
        self.now_s += max(seconds, 0.0)
        await asyncio.sleep(0)


@pytest.fixture
def stepped() -> SteppedTime:
    return SteppedTime()


@pytest.fixture
def sleep(stepped: SteppedTime) -> Sleep:
    return stepped.sleep


@pytest.fixture
def slept(stepped: SteppedTime) -> list[float]:
    return stepped.slept


@pytest.fixture
def elapsed(stepped: SteppedTime) -> Callable[[], float]:
    return lambda: stepped.now_s


@pytest.fixture
def make_clock(stepped: SteppedTime) -> MakeClock:
    def make(speed: float) -> Clock:
        return Clock(speed=speed, wall=lambda: START_S, elapsed=lambda: stepped.now_s)

    return make


@pytest.fixture
def make_packs() -> MakePacks:
    """`count` packs of `each` mass readings, every reading with its own time."""

    def make(count: int, each: int) -> list[Pack]:
        return [
            tuple(
                Record("bay-1/scale/mass", round(START_S + (pack * each + at) * 0.1, 6), unit="kg", value=9.0)
                for at in range(each)
            )
            for pack in range(count)
        ]

    return make


@pytest.fixture
def spool_path(tmp_path: Path) -> Path:
    return tmp_path / "spool.sqlite"


@pytest.fixture
def open_spool(spool_path: Path) -> Iterator[OpenSpool]:
    opened: list[Spool] = []

    def open_one(limits: Limits | None = None) -> Spool:
        opened.append(Spool(spool_path, limits, now_s=lambda: START_S))
        return opened[-1]

    yield open_one
    for spool in opened:
        spool.close()


@pytest.fixture
async def async_spool(open_spool: OpenSpool) -> AsyncIterator[AsyncSpool]:
    spool = AsyncSpool(open_spool())
    yield spool
    await spool.close()
