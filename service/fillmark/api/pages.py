"""The built-in page: files as they are, no build step. Everything that no route takes is looked for here."""

from __future__ import annotations

from pathlib import Path

from starlette.exceptions import HTTPException
from starlette.staticfiles import StaticFiles
from starlette.types import Receive, Scope, Send

import fillmark

FOLDER = Path(fillmark.__file__).parent / "display"
HEADERS = {
    "Cache-Control": "no-cache",
    "Content-Security-Policy": (
        "default-src 'self'; style-src 'self' 'unsafe-inline'; img-src 'self' data:; frame-ancestors 'none'"
    ),
}


class Pages:
    """Files of a folder; 404 where there is none, also when the folder is missing."""

    def __init__(self, folder: Path = FOLDER) -> None:
        self._files = StaticFiles(directory=folder, html=True, check_dir=False)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request that no route takes."""
        if scope["type"] != "http":
            return
        path = scope["path"]
        if scope["method"] not in {"GET", "HEAD"} or "\0" in path:
            raise HTTPException(404)
        response = await self._files.get_response(self._files.get_path(scope), scope)
        for name, value in HEADERS.items():
            response.headers[name] = value
        await response(scope, receive, send)
