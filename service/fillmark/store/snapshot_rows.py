"""Snapshots as rows of SQLite: compressed, with a digest, because a page of a file can rot unnoticed."""

from __future__ import annotations

import hashlib
import zlib

from fillmark.store.log import Snapshot

FAST = 1
Row = tuple[str, str, int, bytes, bytes]


def packed(snapshot: Snapshot) -> Row:
    """The row of a snapshot."""
    body = zlib.compress(snapshot.text.encode(), FAST)
    return (*_head(snapshot), body, _digest(*_head(snapshot), body))


def unpacked(name: str, version: str, position: int, body: bytes, digest: bytes) -> Snapshot | None:
    """The snapshot of a row; None: the row is damaged."""
    if digest != _digest(name, version, position, body):
        return None
    return Snapshot(name, version, position, zlib.decompress(body).decode())


def _head(snapshot: Snapshot) -> tuple[str, str, int]:
    return snapshot.name, snapshot.version, snapshot.position


def _digest(name: str, version: str, position: int, body: bytes) -> bytes:
    return hashlib.blake2b(f"{name}\0{version}\0{position}\0".encode() + body, digest_size=16).digest()
