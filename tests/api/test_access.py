"""Who may write, and from where."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.api.conftest import Desk, MakeDesk

PACK = [{"n": "bay-1/scale/mass", "u": "kg", "t": 1_800_000_000.0, "v": 1.0}]


@pytest.mark.parametrize(
    "host", ["localhost", "localhost:8484", "127.0.0.1:8484", "[::1]:8484", "192.168.7.4:80", "LOCALHOST"]
)
async def test_loopback_names_and_addresses_are_answered(desk: Desk, host: str) -> None:
    assert (await desk.http.get("/health", headers={"Host": host})).status_code == 200


@pytest.mark.parametrize(
    "host", ["evil.example", "evil.example:8484", "localhost.evil.example", "127.0.0.1.evil.example", ""]
)
async def test_other_names_are_not_for_reading_either(desk: Desk, host: str) -> None:
    assert (await desk.http.get("/health", headers={"Host": host})).status_code == 421


async def test_a_configured_name_is_answered(make_desk: MakeDesk) -> None:
    async with make_desk(hosts=("workshop.lan",)) as desk:
        assert (await desk.http.get("/health", headers={"Host": "workshop.lan:8484"})).status_code == 200
        assert (await desk.http.get("/health", headers={"Host": "other.lan"})).status_code == 421


@pytest.mark.parametrize(
    ("origin", "status"),
    [
        (None, 200),
        ("http://localhost", 200),
        ("http://localhost:9999", 403),
        ("https://localhost", 403),
        ("https://elsewhere.example", 403),
        ("null", 403),
    ],
)
async def test_a_page_may_write_only_from_the_services_own_origin(desk: Desk, origin: str | None, status: int) -> None:
    headers = {} if origin is None else {"Origin": origin}
    assert (await desk.http.post("/v1/readings", json=PACK, headers=headers)).status_code == status
    assert desk.keeper.workshop.position == (1 if status == 200 else 0)


async def test_a_configured_origin_may_write_and_its_browser_may_ask_first(make_desk: MakeDesk) -> None:
    origin = "http://display.lan:3000"
    async with make_desk(write_origins=(origin,)) as desk:
        assert (await desk.http.post("/v1/readings", json=PACK, headers={"Origin": origin})).status_code == 200
        asks = {"Origin": origin, "Access-Control-Request-Method": "POST",
                "Access-Control-Request-Headers": "content-type,idempotency-key"}  # fmt: skip
        answer = await desk.http.options("/v1/readings", headers=asks)
        assert answer.status_code == 200
        assert "POST" in answer.headers["access-control-allow-methods"]


async def test_a_page_from_anywhere_may_read(desk: Desk) -> None:
    # The Fetch standard: a page reads an answer whose Access-Control-Allow-Origin is * or its own origin.
    answer = await desk.http.get("/v1/bays/bay-1/glance", headers={"Origin": "http://display.lan:3000"})
    assert answer.headers["access-control-allow-origin"] == "*"
    assert "ETag" in answer.headers["access-control-expose-headers"]


PERSONAL = [
    *(f"/v1/jobs/bay-1.1/{name}" for name in ("log", "record", "record.html", "label.pdf")),
    *("/v1/containers", "/v1/containers/C1", "/v1/stock/2027", "/v1/stock/2027.csv"),
]


@pytest.mark.parametrize("path", PERSONAL)
async def test_what_names_people_is_read_from_elsewhere_only_by_a_named_origin(make_desk: MakeDesk, path: str) -> None:
    origin = "http://office.lan:3000"
    async with make_desk() as desk:
        assert (await desk.http.get(path, headers={"Origin": origin})).status_code == 403
        assert (await desk.http.get(path, headers={"Origin": "http://localhost"})).status_code != 403
        assert (await desk.http.get(path)).status_code != 403
    async with make_desk(read_origins=(origin,)) as desk:
        answer = await desk.http.get(path, headers={"Origin": origin})
        assert answer.status_code != 403
        assert answer.headers["access-control-allow-origin"] == origin


async def test_reading_from_elsewhere_can_be_closed(make_desk: MakeDesk) -> None:
    async with make_desk(read_origins=()) as desk:
        answer = await desk.http.get("/health", headers={"Origin": "http://display.lan:3000"})
        assert "access-control-allow-origin" not in answer.headers


@pytest.mark.parametrize(
    ("authorization", "status"),
    [
        (None, 401),
        ("Bearer wrong", 401),
        ("Basic s3cret", 401),
        ("Bearer", 401),
        ("Bearer s3crét", 401),
        ("Bearer s3cret", 200),
        ("bearer s3cret", 200),
    ],
)
async def test_a_write_needs_the_token_when_there_is_one(
    make_desk: MakeDesk, authorization: str | None, status: int
) -> None:
    headers = {} if authorization is None else {b"Authorization": authorization.encode()}
    async with make_desk(token="s3cret") as desk:  # noqa: S106 - a token of the test
        answer = await desk.http.post("/v1/readings", json=PACK, headers=headers)
        assert answer.status_code == status
        # RFC 6750 section 3: a refusal names the scheme.
        assert answer.headers.get("www-authenticate") == ("Bearer" if status == 401 else None)
        assert (await desk.http.get("/v1/bays")).status_code == 200


async def test_the_token_shows_nowhere(make_desk: MakeDesk) -> None:
    async with make_desk(token="s3cret") as desk:  # noqa: S106 - a token of the test
        assert "s3cret" not in repr(desk.app.state.service.settings)
