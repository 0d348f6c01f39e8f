"""Makes records in a process of its own, one at a time, and keeps the last few."""

from __future__ import annotations

import asyncio
import sys
from collections import OrderedDict

from fillmark.api.export import export
from fillmark.api.problems import ProblemError
from fillmark.engine.job import Job
from fillmark.store.log import Log

MOST_KEPT = 8


class RecordMaker:
    """The records' documents as JSON, by job and position in the log."""

    def __init__(self) -> None:
        self._one = asyncio.Lock()
        self._kept: OrderedDict[tuple[str, int], bytes] = OrderedDict()

    async def of(self, log: Log, job: Job) -> bytes:
        """The document of a job as the log has it now.

        Raises:
            ProblemError: the process failed.
        """
        key = (job.id, job.position)
        async with self._one:
            if key not in self._kept:
                self._kept[key] = await _made(log, job)
                if len(self._kept) > MOST_KEPT:
                    self._kept.popitem(last=False)
            return self._kept[key]


async def _made(log: Log, job: Job) -> bytes:
    lines = b"".join([chunk async for chunk in export(log, job)])
    process = await asyncio.create_subprocess_exec(
        sys.executable,
        "-m",
        "fillmark.report",
        job.id,
        stdin=asyncio.subprocess.PIPE,
        stdout=asyncio.subprocess.PIPE,
        stderr=asyncio.subprocess.PIPE,
    )
    try:
        made, said = await process.communicate(lines)
    finally:
        if process.returncode is None:
            process.kill()
            await process.wait()
    if process.returncode != 0:
        raise ProblemError("internal-error", f"the record could not be made: {said.decode(errors='replace').strip()}")
    return made
