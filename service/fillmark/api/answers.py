"""Answers: JSON, and problem documents for everything that goes wrong."""

from __future__ import annotations

import json
import logging
from collections import Counter

from fastapi import FastAPI
from fastapi.exceptions import RequestValidationError
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response

from fillmark.api.problems import ProblemError, Refusal
from fillmark.store.log import LogError, LogFullError

_LOG = logging.getLogger(__name__)
_BY_STATUS = {404: "not-found", 405: "method-not-allowed", 413: "body-too-large", 415: "unsupported-media-type"}
NO_STORE = {"Cache-Control": "no-store"}


def dumps(value: object) -> str:
    """Compact JSON. NaN is an error: it is not JSON, and unknown is null."""
    return json.dumps(value, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def answer(value: object, status: int = 200, headers: dict[str, str] | None = None) -> Response:
    """A JSON answer that nobody keeps: it is old in a second."""
    text = value if isinstance(value, str) else dumps(value)
    return Response(text.encode(), status, {**NO_STORE, **(headers or {})}, "application/json")


class Refusals:
    """Answers refusals and counts them by kind."""

    def __init__(self) -> None:
        self.counts: Counter[str] = Counter()

    def __call__(self, refusal: Refusal, path: str) -> Response:
        """The response to one refusal."""
        self.counts[refusal.slug] += 1
        text = json.dumps(refusal.document(path), separators=(",", ":"), allow_nan=False)
        headers = {**NO_STORE, **refusal.headers}
        return Response(text, refusal.problem.status, headers, "application/problem+json")

    def install(self, app: FastAPI) -> None:
        """Let every error of the app end here."""

        def handle(request: Request, error: Exception) -> Response:
            return self(refusal_of(error), request.url.path)

        kinds = (ProblemError, HTTPException, RequestValidationError, RecursionError, LogError, Exception)
        for kind in kinds:
            app.add_exception_handler(kind, handle)
        app.add_exception_handler(ClientDisconnect, _nobody_there)


def _nobody_there(request: Request, error: Exception) -> Response:
    """The client went away before its body was whole. Nothing was taken, and nobody reads an answer."""
    del request, error
    return Response(status_code=400)


def refusal_of(error: Exception) -> Refusal:
    """What an error is to the client."""
    match error:
        case ProblemError():
            return error.refusal
        case HTTPException():
            return _http(error)
        case RequestValidationError():
            return _validation(error)
        case RecursionError():
            return Refusal("not-json", "the body is nested too deep", accepted="a flat object")
        case LogError():
            return _not_durable(error)
    _LOG.error("a request failed", exc_info=error)
    return Refusal("internal-error", "the service has made a mistake; its log on stderr says more")


def _not_durable(error: LogError) -> Refusal:
    full = isinstance(error, LogFullError)
    detail = (
        f"{error}. What was sent is kept in memory and written as soon as that works, but would be lost if the service "
        "stopped now; send it again until it is acknowledged, which counts nothing twice"
    )
    return Refusal("storage-full" if full else "not-durable", detail, headers={"Retry-After": "2"})


def _http(error: HTTPException) -> Refusal:
    slug = _BY_STATUS.get(error.status_code, "bad-request" if error.status_code < 500 else "internal-error")
    headers = dict(error.headers or {})
    if slug == "method-not-allowed":
        allowed = headers.get("Allow") or headers.get("allow") or ""
        return Refusal(slug, "the path does not take this method", accepted=allowed, headers=headers)
    if slug == "not-found":
        return Refusal(slug, "there is nothing under this path; /openapi.json lists what there is", headers=headers)
    return Refusal(slug, str(error.detail), headers=headers)


def _validation(error: RequestValidationError) -> Refusal:
    first = error.errors()[0]
    return Refusal("invalid-field", first["msg"], field="/" + "/".join(str(part) for part in first["loc"]))
