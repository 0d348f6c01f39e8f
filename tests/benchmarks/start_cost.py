"""What a start costs, and what the service keeps: `python tests/benchmarks/start_cost.py [entries]`.

A log of so many readings, one an entry, of an open job that charges. It is opened twice: without a snapshot, so that
all of it is folded, and with the one that the first service left. Reported are both times for 100,000 entries, their
ratio, and how many bytes for each reading the service's own code holds on to during the second half of them. It is told
to keep so few readings for what comes late that it has them by then.
"""

from __future__ import annotations

import asyncio
import gc
import logging
import sqlite3
import sys
import tempfile
import time
import tracemalloc
from contextlib import closing
from pathlib import Path

from fillmark.api.answers import dumps
from fillmark.api.keeper import Keeper
from fillmark.api.restore import open_log, started
from fillmark.api.settings import Settings
from fillmark.wire.clock import Clock
from fillmark.wire.senml import Record

ENTRIES = 40_000
RECENT = 2000
RATE_HZ = 1000.0
TOGETHER = 100
BEGIN_S = 1_800_000_000.0
SETUP = (
    {"type": "job.open", "circuit": {"refrigerant": "R-134a", "charge_min": "480 g", "charge_max": "520 g"},
     "hose": {"length": "1.8 m", "bore": "4.8 mm"}, "scale": {"resolution": "1 g"}},
    {"type": "step.begin", "step": "charging"},
    {"type": "container.mount", "container": "C1", "net": "900 g"},
)  # fmt: skip
CHANNELS = (("scale/mass", "kg", 5.0), ("low/pressure", "Pa", 3e5), ("high/pressure", "Pa", 9e5))


class Feeder:
    """One service, and a clock that the readings move."""

    def __init__(self, path: Path) -> None:
        self.settings = Settings(database=path, warm_up=False, recent_events=RECENT, times_in_memory=RECENT)
        self.elapsed_s = 0.0
        self.clock = Clock(wall=lambda: BEGIN_S, elapsed=lambda: self.elapsed_s)

    async def start(self) -> Keeper:
        """Open the log and fold it."""
        return await started(self.settings, await open_log(self.settings), self.clock)

    async def fill(self, keeper: Keeper, count: int) -> None:
        """So many readings, each an entry."""
        for _ in range(0, count, TOGETHER):
            packs = []
            for number in range(TOGETHER):
                self.elapsed_s += 1.0 / RATE_HZ
                local, unit, value = CHANNELS[number % len(CHANNELS)]
                packs.append([Record(f"bay-1/{local}", BEGIN_S + self.elapsed_s, unit, value)])
            await asyncio.gather(*(keeper.submit(pack) for pack in packs))

    async def grown(self, count: int) -> float:
        """Bytes of the service's own code for each of the second half of `count` readings."""
        keeper = await self.start()
        for index, action in enumerate(SETUP):
            await keeper.act("bay-1", dumps(action), lambda _job, _at_s: (200, "{}"), None, "bay-1.1" if index else "")
        await self.fill(keeper, count // 2)
        before = _held()
        await self.fill(keeper, count // 2)
        grown = (_held() - before) / (count // 2)
        await keeper.stop()
        return grown

    async def timed(self) -> tuple[float, int]:
        """Seconds that a start takes, and the log's last position."""
        begun = time.perf_counter()
        keeper = await self.start()
        took_s = time.perf_counter() - begun
        await keeper.stop()
        return took_s, keeper.workshop.position


def _held() -> int:
    gc.collect()
    rows = tracemalloc.take_snapshot().statistics("filename")
    return sum(row.size for row in rows if "/service/fillmark/" in row.traceback[0].filename)


async def measure(entries: int) -> int:
    """Print all; status 1 where a snapshot is of no use or memory grows."""
    logging.disable(logging.WARNING)
    with tempfile.TemporaryDirectory() as folder:
        feeder = Feeder(Path(folder) / "log.db")
        tracemalloc.start()
        grown = await feeder.grown(entries)
        tracemalloc.stop()
        with closing(sqlite3.connect(feeder.settings.database or "")) as log:
            log.execute("DROP TABLE snapshot")
        folded_s, position = await feeder.timed()
        resumed_s, _ = await feeder.timed()
    per = 100_000 / position
    sys.stdout.write(
        f"{position} entries; start for 100,000: {folded_s * per:.1f} s folded; from a snapshot {resumed_s:.2f} s, "
        f"however many they are\nmemory in the second half: {grown:+.1f} bytes a reading\n"
    )
    return 0 if grown < 10.0 and folded_s > 10.0 * resumed_s else 1


if __name__ == "__main__":
    raise SystemExit(asyncio.run(measure(int(sys.argv[1]) if len(sys.argv) > 1 else ENTRIES)))
