"""Every log under one contract: the `log` fixture runs a test once for each store."""

from __future__ import annotations

from collections.abc import AsyncIterator, Callable
from pathlib import Path

import pytest

from fillmark.store.log import Identity, Log, LogEntry
from fillmark.store.memory import MemoryLog
from fillmark.store.sqlite import SqliteLog

MakeEntry = Callable[..., LogEntry]


@pytest.fixture(params=["memory", "sqlite"])
async def log(request: pytest.FixtureRequest, tmp_path: Path) -> AsyncIterator[Log]:
    opened: Log = MemoryLog() if request.param == "memory" else await SqliteLog.open(tmp_path / "log.db")
    yield opened
    await opened.close()


@pytest.fixture
def entry() -> MakeEntry:
    def make(position: int, bay: str = "bay-1", *names: str) -> LogEntry:
        at = 1_800_000_000.0 + position / 3.0
        identities = tuple(Identity(name, at) for name in names or (f"{bay}/scale/mass",))
        return LogEntry(position, at, bay, f'[{{"n":"{bay}/scale/mass","t":{at!r},"v":0.1}}]', identities)

    return make
