"""Bodies of requests: a limit on their length, their media type, and JSON that is really JSON."""

from __future__ import annotations

import hashlib
import json
from typing import NoReturn

from starlette.requests import Request

from fillmark.api.problems import ProblemError

JSON = "application/json"
SENML = "application/senml+json"


async def read(request: Request, limit_bytes: int, *accepted: str) -> bytes:
    """The body, of one of the `accepted` media types.

    Raises:
        ProblemError: another media type, or more than `limit_bytes`. Reading stops there.
    """
    _check_media_type(request, accepted)
    length = request.headers.get("content-length", "0")
    if length.isascii() and length.isdigit() and int(length) > limit_bytes:
        raise _too_large(limit_bytes)
    body = bytearray()
    async for chunk in request.stream():
        body += chunk
        if len(body) > limit_bytes:
            raise _too_large(limit_bytes)
    return bytes(body)


def parse(body: bytes) -> object:
    """The JSON value of a body.

    Raises:
        ProblemError: not UTF-8, not JSON, nested too deep, NaN, or half of a character that takes two.
    """
    try:
        value: object = json.loads(body.decode("utf-8"), parse_constant=_refuse)
        if b"\\u" in body:
            json.dumps(value, ensure_ascii=False).encode("utf-8")
    except RecursionError as error:
        raise ProblemError("not-json", "the body is nested too deep", accepted="a flat object") from error
    except UnicodeError as error:
        detail = f"the body has characters that are not UTF-8 ({error})"
        raise ProblemError("not-json", detail, accepted="JSON in UTF-8") from error
    except ValueError as error:
        raise ProblemError("not-json", f"the body is not JSON: {error}", accepted="JSON in UTF-8") from error
    return value


def parse_object(body: bytes) -> dict[str, object]:
    """The JSON object of a body.

    Raises:
        ProblemError: it is none.
    """
    value = parse(body)
    if not isinstance(value, dict):
        raise ProblemError("invalid-field", "the body is not a JSON object", accepted='an object, as {"type": ...}')
    return value


def fingerprint(path: str, value: object) -> str:
    """What tells two requests apart: where they went and what they said, whatever their spacing."""
    text = json.dumps(value, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(f"{path}\n{text}".encode()).hexdigest()


def _refuse(name: str) -> NoReturn:
    raise ValueError(f"{name} is no number in JSON")


def _too_large(limit_bytes: int) -> ProblemError:
    return ProblemError(
        "body-too-large",
        f"the body has more than {limit_bytes} bytes; send it in several requests",
        accepted=f"at most {limit_bytes} bytes",
        headers={"Connection": "close"},
    )


def _check_media_type(request: Request, accepted: tuple[str, ...]) -> None:
    found = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    choice = " or ".join(accepted)
    if found not in accepted:
        raise ProblemError(
            "unsupported-media-type",
            f"the body is {found or 'of no media type'}; send the header Content-Type: {accepted[0]}",
            accepted=choice,
            headers={"Accept-Post": ", ".join(accepted)},
        )
    if request.headers.get("content-encoding", "identity").lower() != "identity":
        raise ProblemError("unsupported-media-type", "the body is compressed; send it as it is", accepted=choice)
