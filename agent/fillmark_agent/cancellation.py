"""Python 3.11's asyncio.wait_for can lose a cancellation that comes together with the awaited result.

Libraries of radios use it around every operation, so a task that calls them looks after its own cancellation.
"""

from __future__ import annotations

import asyncio


def heed_cancellation() -> None:
    """Stop here if this task was asked to stop, whatever became of the request on its way.

    Raises:
        asyncio.CancelledError: it was.
    """
    task = asyncio.current_task()
    if task is not None and task.cancelling():
        raise asyncio.CancelledError
