"""Runs outlets beside the service: one task each, begun again when one fails, ended when the service ends."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Sequence
from typing import Protocol

from fillmark.outlets.feed import Feed

_LOG = logging.getLogger(__name__)
AGAIN_S = 5.0
LAST_MOMENT_S = 1.0


class Outlet(Protocol):
    """Something that watches a feed."""

    name: str

    async def run(self, feed: Feed) -> None:
        """Work until the feed has stopped."""
        ...


class Outlets:
    """The running outlets."""

    def __init__(self, outlets: Sequence[Outlet], feed: Feed) -> None:
        self._tasks = [asyncio.create_task(_forever(each, feed), name=each.name) for each in outlets]

    async def stop(self) -> None:
        """Let them say their last word, but not for long. The feed must have stopped."""
        if self._tasks:
            await asyncio.wait(self._tasks, timeout=LAST_MOMENT_S)
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, return_exceptions=True)


async def _forever(outlet: Outlet, feed: Feed) -> None:
    while True:
        try:
            await outlet.run(feed)
        except Exception:  # noqa: BLE001 - an outlet's mistake must cost nobody else anything
            _LOG.exception("%s has failed; it begins again in %g s", outlet.name, AGAIN_S)
            await asyncio.sleep(AGAIN_S)
        else:
            return
