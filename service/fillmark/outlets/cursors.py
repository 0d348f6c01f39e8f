"""How far each webhook has come in the log: a small JSON file beside the log, so that a restart loses nothing.

The log itself is the queue. It holds every change of a stop point; a cursor is the position up to which they were
delivered.
"""

from __future__ import annotations

import asyncio
import hashlib
import json
import logging
import os
from pathlib import Path

_LOG = logging.getLogger(__name__)


def key_of(url: str) -> str:
    """The name under which a receiver's cursor is kept: an address may hold a secret, so it is not written down."""
    return hashlib.sha256(url.encode()).hexdigest()[:24]


class Cursors:
    """Cursors of all receivers. Without a file they live as long as the process, as the log does then."""

    def __init__(self, path: Path | None) -> None:
        self._path = path
        self._positions: dict[str, int] = {} if path is None else _loaded(path)
        self._writing = asyncio.Lock()

    def get(self, url: str) -> int | None:
        """The position up to which everything was delivered; None for a receiver that is new."""
        return self._positions.get(key_of(url))

    async def put(self, url: str, position: int) -> None:
        """Keep a position. Where the disk refuses, it is kept in memory, and a restart would deliver again."""
        self._positions[key_of(url)] = position
        if self._path is None:
            return
        async with self._writing:
            try:
                await asyncio.to_thread(_replaced, self._path, json.dumps(self._positions))
            except OSError as error:
                _LOG.warning("%s cannot be written (%s); after a restart webhooks may come twice", self._path, error)


def _loaded(path: Path) -> dict[str, int]:
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        return {}
    except (OSError, ValueError) as error:
        _LOG.warning("%s cannot be read (%s); webhooks begin with what happens now", path, error)
        return {}
    pairs = found.items() if isinstance(found, dict) else ()
    return {key: position for key, position in pairs if isinstance(position, int) and not isinstance(position, bool)}


def _replaced(path: Path, text: str) -> None:
    """Write a new file, force it to the disk, then let it take the old one's place."""
    new = path.with_name(path.name + ".new")
    with new.open("w", encoding="utf-8") as file:
        file.write(text)
        file.flush()
        os.fsync(file.fileno())
    new.replace(path)
