"""Time passes in the log while nothing arrives, in time and without haste."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING

from fillmark.api.ticker import Ticker
from fillmark.wire.clock import Clock

if TYPE_CHECKING:
    import pytest
    from tests.api.conftest import MakeDesk, Until


async def test_a_tick_comes_when_it_is_due_and_once(until: Until) -> None:
    clock, ticks = Clock(), list[float]()
    due: list[float | None] = [clock.now_s() + 0.1]

    def tick(now: float) -> None:
        ticks.append(now)
        due[0] = None

    ticker = Ticker(clock, lambda: due[0], tick)
    ticker.arm()
    wanted = due[0]
    assert wanted is not None
    await until(lambda: bool(ticks))
    assert ticks[0] >= wanted
    await asyncio.sleep(0.1)
    assert len(ticks) == 1


async def test_a_nearer_wake_moves_the_timer(until: Until) -> None:
    clock, ticks = Clock(), list[float]()
    due = [clock.now_s() + 50.0]

    def tick(now: float) -> None:
        ticks.append(now)
        due[0] = now + 50.0

    ticker = Ticker(clock, lambda: due[0], tick)
    ticker.arm()
    due[0] = clock.now_s() + 0.02
    ticker.arm()
    await until(lambda: bool(ticks))
    await asyncio.sleep(0.05)
    assert len(ticks) == 1
    ticker.stop()


async def test_a_wake_that_stays_due_is_not_a_busy_loop(caplog: pytest.LogCaptureFixture) -> None:
    calls = 0

    def fails(now: float) -> None:
        nonlocal calls
        calls += 1
        raise RuntimeError(f"a slip at {now}")

    ticker = Ticker(Clock(), lambda: 1.0, fails)
    ticker.arm()
    await asyncio.sleep(0.1)
    ticker.stop()
    assert calls == 1
    assert "a tick failed" in caplog.text


async def test_silence_is_noticed_while_nothing_arrives(make_desk: MakeDesk, until: Until) -> None:
    async with make_desk(clock=Clock(speed=60.0)) as desk:
        await desk.open()
        await desk.act("bay-1.1", "step.begin", step="charging")
        await desk.act("bay-1.1", "container.mount", container="C1", net="340 g")
        now = desk.app.state.service.clock.now_s()
        for n in range(4):
            await desk.mass(1.0, round(now - 1.0 + n / 4.0, 3))
        # Nothing arrives any more, so it is a tick that notices; a busy machine may be so late that it has been by now.
        await until(lambda: "reading-stale" in [key[0] for key in desk.keeper.workshop.jobs["bay-1.1"].active])
        noticed = desk.keeper.workshop.position
        await asyncio.sleep(0.3)  # eighteen seconds of its clock
        assert desk.keeper.workshop.position - noticed <= 4
        await until(lambda: desk.keeper.writer.pending == 0)
        assert await desk.keeper.log.last_position() == desk.keeper.workshop.position
