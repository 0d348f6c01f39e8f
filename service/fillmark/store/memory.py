"""A log that lasts as long as the process. For demonstrations and tests."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from fillmark.store.log import Identity, KeptAnswer, LogConflictError, LogEntry, Snapshot, check_follows


class MemoryLog:
    """The log in lists."""

    def __init__(self) -> None:
        self._entries: list[LogEntry] = []
        self._identities: set[Identity] = set()
        self._answers: dict[str, KeptAnswer] = {}
        self._snapshots: dict[str, Snapshot] = {}

    async def append(self, entries: Sequence[LogEntry], answers: Sequence[KeptAnswer] = ()) -> None:
        """See `Log.append`."""
        check_follows(entries, len(self._entries))
        fresh = [identity for entry in entries for identity in entry.identities]
        if len(set(fresh)) != len(fresh) or not self._identities.isdisjoint(fresh):
            raise LogConflictError("a record is already in the log")
        keys = [answer.key for answer in answers]
        if len(set(keys)) != len(keys) or not self._answers.keys().isdisjoint(keys):
            raise LogConflictError("an idempotency key is already in the log")
        self._entries += [replace(entry, identities=()) for entry in entries]
        self._identities.update(fresh)
        self._answers.update(zip(keys, answers, strict=True))

    async def read(self, after: int, limit: int, bay: str | None = None) -> list[LogEntry]:
        """See `Log.read`."""
        later = self._entries[max(after, 0) :]
        return [entry for entry in later if bay is None or entry.bay == bay][:limit]

    async def last_position(self) -> int:
        """See `Log.last_position`."""
        return len(self._entries)

    async def known(self, identities: Iterable[Identity]) -> set[Identity]:
        """See `Log.known`."""
        return self._identities.intersection(identities)

    async def answer(self, key: str) -> KeptAnswer | None:
        """See `Log.answer`."""
        return self._answers.get(key)

    async def keep(self, snapshots: Sequence[Snapshot]) -> None:
        """See `Log.keep`."""
        versions = {snapshot.version for snapshot in snapshots}
        self._snapshots = {n: one for n, one in self._snapshots.items() if one.version in versions}
        self._snapshots.update((snapshot.name, snapshot) for snapshot in snapshots)

    async def snapshots(self, version: str) -> list[Snapshot]:
        """See `Log.snapshots`."""
        return [snapshot for snapshot in self._snapshots.values() if snapshot.version == version]

    async def is_gapless(self) -> bool:
        """See `Log.is_gapless`."""
        return True

    async def close(self) -> None:
        """Nothing to let go of."""
