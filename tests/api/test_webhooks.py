"""Webhooks of a real service to a real receiver, through a restart of the service."""

from __future__ import annotations

import base64
import http.server
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from standardwebhooks import Webhook

from fillmark.api import schemas

if TYPE_CHECKING:
    from tests.api.conftest import Desk, MakeDesk, Until

SECRET = "whsec_" + base64.b64encode(bytes(range(32))).decode()


class Receiver(http.server.ThreadingHTTPServer):
    """Checks the signature with another library and keeps what it was told."""

    def __init__(self) -> None:
        self.told: list[dict[str, Any]] = []
        self.answer = 204
        super().__init__(("127.0.0.1", 0), Handler)

    @property
    def settings(self) -> dict[str, str]:
        return {"url": f"http://127.0.0.1:{self.server_address[1]}/hook", "secret": SECRET}


class Handler(http.server.BaseHTTPRequestHandler):
    server: Receiver

    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers["content-length"]))
        document = Webhook(SECRET).verify(body, dict(self.headers.items()))
        if self.server.answer == 204:
            self.server.told.append(document)
        self.send_response(self.server.answer)
        self.end_headers()

    def log_message(self, format: str, *args: object) -> None:  # noqa: A002 - the name that the base class gave it
        del format, args


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    server = Receiver()
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01})
    thread.start()
    yield server
    server.shutdown()
    server.server_close()
    thread.join()


async def open_the_wrong_valve(desk: Desk) -> None:
    await desk.act("bay-1.1", "valve", valve="high", open=True)
    await desk.act("bay-1.1", "valve", valve="high", open=False)


async def test_every_change_is_told_signed_and_in_order(make_desk: MakeDesk, receiver: Receiver, until: Until) -> None:
    async with make_desk(webhooks=[receiver.settings]) as desk:
        await desk.open()
        await desk.act("bay-1.1", "engine", running=True)
        await open_the_wrong_valve(desk)
        journal = desk.keeper.workshop.jobs["bay-1.1"].journal
        assert len(journal) >= 2
        await until(lambda: len(receiver.told) == len(journal))
    assert [each["data"]["position"] for each in receiver.told] == [moved.position for moved in journal]
    assert "high-side-open-while-running" in {each["data"]["id"] for each in receiver.told}
    for told in receiver.told:
        assert schemas.StopPointMessage.model_validate(told).data.bay == "bay-1"


async def test_what_a_dead_receiver_missed_comes_after_a_restart(
    make_desk: MakeDesk, receiver: Receiver, until: Until, tmp_path: Path
) -> None:
    receiver.answer = 503
    given = {"database": tmp_path / "log.db", "webhooks": [receiver.settings]}
    async with make_desk(**given) as desk:
        await desk.open()
        await desk.act("bay-1.1", "engine", running=True)
        await open_the_wrong_valve(desk)
        wanted = [moved.position for moved in desk.keeper.workshop.jobs["bay-1.1"].journal]
    assert receiver.told == []
    receiver.answer = 204
    async with make_desk(**given):
        await until(lambda: len(receiver.told) == len(wanted))
    assert [each["data"]["position"] for each in receiver.told] == wanted


async def test_the_webhook_is_in_the_openapi_document(desk: Desk) -> None:
    document = (await desk.http.get("/openapi.json")).json()
    body = document["webhooks"]["stop_point.moved"]["post"]["requestBody"]["content"]["application/json"]["schema"]
    assert body == {"$ref": "#/components/schemas/StopPointMessage"}
    assert "BayStopPointMoved" in document["components"]["schemas"]
