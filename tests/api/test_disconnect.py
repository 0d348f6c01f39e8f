"""A client that goes away before its body is whole is no mistake of the service."""

from __future__ import annotations

import logging
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from tests.api.conftest import Desk


@pytest.mark.parametrize("path", ["/v1/readings", "/v1/jobs", "/v1/jobs/bay-1.1/actions"])
async def test_half_a_body_is_dropped_without_a_word(desk: Desk, path: str, caplog: pytest.LogCaptureFixture) -> None:
    await desk.open()
    coming: list[dict[str, Any]] = [
        {"type": "http.request", "body": b'[{"n":', "more_body": True},
        {"type": "http.disconnect"},
    ]
    sent: list[dict[str, Any]] = []

    async def receive() -> dict[str, Any]:
        return coming.pop(0)

    async def send(message: dict[str, Any]) -> None:
        sent.append(message)

    headers = [(b"host", b"127.0.0.1"), (b"content-type", b"application/json"), (b"idempotency-key", b"k")]
    scope = {
        "type": "http", "method": "POST", "path": path, "raw_path": path.encode(), "query_string": b"",
        "headers": headers, "http_version": "1.1", "scheme": "http", "server": ("127.0.0.1", 80), "root_path": "",
    }  # fmt: skip
    before = desk.keeper.workshop
    with caplog.at_level(logging.ERROR):
        await desk.app(scope, receive, send)  # type: ignore[arg-type]  # plain ASGI messages
    assert sent[0]["status"] == 400
    assert not caplog.records
    assert desk.keeper.workshop is before
