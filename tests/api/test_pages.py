from __future__ import annotations

import gzip
from pathlib import Path

import pytest
from starlette.datastructures import Headers
from starlette.exceptions import HTTPException
from starlette.types import Message, Scope

from fillmark.api import pages


async def get(folder: Path, path: str, method: str = "GET", **headers: str) -> tuple[int, Headers, bytes]:
    sent: list[Message] = []
    raw = [(name.replace("_", "-").encode(), value.encode()) for name, value in headers.items()]
    scope: Scope = {"type": "http", "method": method, "path": path, "headers": raw}

    async def receive() -> Message:
        return {"type": "http.request"}

    async def send(message: Message) -> None:
        sent.append(message)

    await pages.Pages(folder)(scope, receive, send)
    body = b"".join(one.get("body", b"") for one in sent[1:])
    return sent[0]["status"], Headers(raw=sent[0]["headers"]), body


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "index.html").write_text("<p>front</p>" * 50)
    (tmp_path / "one.js").write_text("export const one = 1;\n" * 50)
    (tmp_path / "tiny.txt").write_text("x")
    (tmp_path / "sub").mkdir()
    (tmp_path.parent / "secret.txt").write_text("not yours")
    return tmp_path


async def test_a_client_that_takes_gzip_gets_it_and_another_gets_the_file(folder: Path) -> None:
    _, zipped, body = await get(folder, "/", accept_encoding="br, gzip")
    _, plain, whole = await get(folder, "/", accept_encoding="identity")
    assert zipped["content-encoding"] == "gzip"
    assert "content-encoding" not in plain
    assert gzip.decompress(body) == whole == (folder / "index.html").read_bytes()
    assert len(body) < len(whole)
    assert zipped["vary"] == plain["vary"] == "Accept-Encoding"


# RFC 9110 section 12.5.3: a weight of 0 means "not acceptable".
@pytest.mark.parametrize(
    ("header", "taken"),
    [("gzip", True), ("GZIP;q=0.5", True), ("*", True), ("gzip;q=0", False), ("gzip; q=0.000", False), ("", False)],
)
def test_what_accept_encoding_says(header: str, taken: bool) -> None:
    assert pages.accepts_gzip(header) is taken


async def test_what_compression_makes_longer_is_sent_as_it_is(folder: Path) -> None:
    assert "content-encoding" not in (await get(folder, "/tiny.txt", accept_encoding="gzip"))[1]


async def test_who_has_the_newest_file_gets_no_body_and_a_changed_file_has_another_tag(folder: Path) -> None:
    _, headers, _ = await get(folder, "/one.js", accept_encoding="gzip")
    status, _, body = await get(folder, "/one.js", accept_encoding="gzip", if_none_match=headers["etag"])
    assert (status, body) == (304, b"")
    assert (await get(folder, "/one.js", if_none_match=headers["etag"]))[0] == 200  # that tag is of the zipped body
    (folder / "one.js").write_text("export const one = 2;\n" * 50)
    assert (await get(folder, "/one.js", accept_encoding="gzip", if_none_match=headers["etag"]))[0] == 200


@pytest.mark.parametrize(
    "path", ["/../secret.txt", "/..", "/sub", "/sub/", "/none.js", "/a\0b", "/..\\secret.txt", "//one.js"]
)
async def test_nothing_outside_the_folder_is_served(folder: Path, path: str) -> None:
    with pytest.raises(HTTPException) as refused:
        await get(folder, path)
    assert refused.value.status_code == 404


async def test_only_reading_is_answered_and_modules_have_their_type(folder: Path) -> None:
    with pytest.raises(HTTPException):
        await get(folder, "/one.js", method="POST")
    assert (await get(folder, "/one.js"))[1]["content-type"].startswith("text/javascript")
    assert "frame-ancestors 'none'" in (await get(folder, "/"))[1]["content-security-policy"]
