"""The built-in page: files of one folder, compressed once and kept. What no route takes is looked for here.

A tablet on a workshop's radio gets a quarter of the bytes; `ETag` and `no-cache` let it ask whether it has the newest
files, so page and service never differ in their version.
"""

from __future__ import annotations

import gzip
import hashlib
import mimetypes
from dataclasses import dataclass
from pathlib import Path

from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.responses import Response
from starlette.types import Receive, Scope, Send

import fillmark

FOLDER = Path(fillmark.__file__).parent / "display"
FRONT = "index.html"
HEADERS = {
    "Cache-Control": "no-cache",
    "Vary": "Accept-Encoding",
    "Content-Security-Policy": (
        "default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; frame-ancestors 'none'"
    ),
}
TYPES = {".js": "text/javascript", ".webmanifest": "application/manifest+json", ".svg": "image/svg+xml"}
"""Said here because the tables of systems differ, and a browser runs no module that comes under another type."""


@dataclass(frozen=True, slots=True)
class Kept:
    """One file as it is sent. `packed` is None where compression gains nothing."""

    stamp: tuple[int, int]
    media_type: str
    tag: str
    plain: bytes
    packed: bytes | None


class Pages:
    """Files of a folder without its subfolders; 404 where there is none, also when the folder is missing."""

    def __init__(self, folder: Path = FOLDER) -> None:
        self._folder = folder
        self._kept: dict[str, Kept] = {}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request that no route takes."""
        if scope["type"] != "http":
            return
        name = scope["path"].removeprefix("/") or FRONT
        kept = self._look_up(name) if scope["method"] in {"GET", "HEAD"} else None
        if kept is None:
            raise HTTPException(404)
        await answer(kept, Headers(scope=scope))(scope, receive, send)

    def _look_up(self, name: str) -> Kept | None:
        """The file of that very name. A path that leads out of the folder is no name of a file in it."""
        if "/" in name or "\\" in name or "\0" in name or name.startswith("."):
            return None
        path = self._folder / name
        try:
            stat = path.stat()
            stamp = (stat.st_mtime_ns, stat.st_size)
            kept = self._kept.get(name)
            if kept is None or kept.stamp != stamp:
                kept = self._kept[name] = pack(path, stamp)
        except OSError:
            return None
        return kept


def pack(path: Path, stamp: tuple[int, int]) -> Kept:
    """A file, read and compressed. Raises OSError."""
    plain = path.read_bytes()
    packed = gzip.compress(plain, compresslevel=9, mtime=0)
    guessed = TYPES.get(path.suffix) or mimetypes.guess_type(path.name)[0] or "application/octet-stream"
    tag = hashlib.sha256(plain).hexdigest()[:20]
    return Kept(stamp, guessed, tag, plain, packed if len(packed) < len(plain) else None)


def answer(kept: Kept, asked: Headers) -> Response:
    """The file compressed where the client takes that, or 304 where it has it."""
    zipped = kept.packed is not None and accepts_gzip(asked.get("accept-encoding", ""))
    tag = f'"{kept.tag}{"-gz" if zipped else ""}"'
    headers = {**HEADERS, "ETag": tag}
    known = {one.strip().removeprefix("W/") for one in asked.get("if-none-match", "").split(",")}
    if tag in known or "*" in known:
        return Response(status_code=304, headers=headers)
    if zipped:
        headers["Content-Encoding"] = "gzip"
    body = kept.packed if zipped and kept.packed is not None else kept.plain
    return Response(body, media_type=kept.media_type, headers=headers)


def accepts_gzip(header: str) -> bool:
    """Whether `Accept-Encoding` names gzip and does not refuse it (RFC 9110 section 12.5.3)."""
    for part in header.lower().split(","):
        coding, *parameters = (one.strip() for one in part.split(";"))
        if coding in {"gzip", "x-gzip", "*"}:
            weight = next((one.removeprefix("q=") for one in parameters if one.startswith("q=")), "1")
            return weight.strip("0.") != ""
    return False
