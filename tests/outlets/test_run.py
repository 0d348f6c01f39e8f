"""An outlet that fails begins again; the others and the service do not notice."""

from __future__ import annotations

import asyncio
from typing import cast

import pytest

from fillmark.outlets import run
from fillmark.outlets.feed import Feed
from fillmark.outlets.run import Outlets

NO_FEED = cast("Feed", None)


class Clumsy:
    name = "clumsy"

    def __init__(self) -> None:
        self.runs = 0
        self.well = asyncio.Event()

    async def run(self, feed: Feed) -> None:
        del feed
        self.runs += 1
        if self.runs < 3:
            raise ZeroDivisionError
        self.well.set()
        await asyncio.Event().wait()


async def test_a_failed_outlet_begins_again_and_the_stop_does_not_wait_for_it(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setattr(run, "AGAIN_S", 0.0)
    monkeypatch.setattr(run, "LAST_MOMENT_S", 0.01)
    outlet = Clumsy()
    outlets = Outlets([outlet], NO_FEED)
    async with asyncio.timeout(10.0):
        await outlet.well.wait()
        await outlets.stop()
    assert outlet.runs == 3
    assert caplog.text.count("clumsy has failed") == 2
