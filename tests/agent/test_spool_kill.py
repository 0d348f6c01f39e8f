"""A real process is killed while it writes; what it had been told was stored is there afterwards."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from fillmark.wire.senml import decode
from fillmark_agent.spool import Spool

WRITER = """
import sys
from pathlib import Path
from fillmark.wire.senml import Record
from fillmark_agent.spool import Spool

spool = Spool(Path(sys.argv[1]))
number = int(sys.argv[2])
while True:
    packs = [(Record("b/scale/mass", 1.8e9 + number + n, unit="kg", value=1.0),) for n in range(7)]
    spool.append(packs)
    number += len(packs)
    print(number, flush=True)
"""


def write_until_killed(path: Path, first: int, batches: int) -> int:
    """The number up to which the writer had said that packs are stored when it was killed with SIGKILL."""
    with subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path), str(first)], stdout=subprocess.PIPE, text=True
    ) as writer:
        assert writer.stdout is not None
        for _ in range(batches):
            stored = int(writer.stdout.readline())
        writer.kill()
        rest = writer.stdout.read().split()
    return int(rest[-1]) if rest else stored


def numbers(spool: Spool) -> list[int]:
    rows = spool.peek(10**9, 10**9)
    return [int(record.time_s - 1.8e9) for row in rows for record in decode(row.body, now_s=0.0)]


@pytest.mark.parametrize("batches", [1, 40])
def test_everything_stored_before_a_kill_is_there_in_order_once(
    spool_path: Path, open_spool: Callable[[], Spool], batches: int
) -> None:
    stored = write_until_killed(spool_path, 0, batches)
    spool = open_spool()
    first = numbers(spool)
    assert first == list(range(len(first)))
    assert len(first) >= stored >= batches * 7
    spool.settle(spool.peek(3, 10**6))
    spool.close()
    again = write_until_killed(spool_path, len(first), batches)
    found = numbers(open_spool())
    assert found == list(range(3, len(found) + 3))
    assert len(found) + 3 >= again
