"""Who may come in. Pure ASGI, so that streams pass through it untouched.

* The Host header must be a loopback name, an IP address or a configured name. A page of a foreign site that makes its
  own name point to this machine (DNS rebinding) comes with that name; it cannot come with an address.
* A write from a page of another origin is refused, because a browser sends it without asking the person.
* When a token is set, a write must carry it. Reads stay open: a display needs no secret.
* What names people and dealers (logs, records, labels, the stock) is no display's business: a page of another origin
  reads it only where its origin is named in the settings; * does not name it.
"""

from __future__ import annotations

import ipaddress
import re
import secrets
from collections.abc import Callable
from email.utils import formatdate

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from fillmark.api.problems import Refusal
from fillmark.api.settings import Settings
from fillmark.wire.clock import Clock

SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
PERSONAL = re.compile(r"/v1/(jobs/[^/]*/(log|record|label)|containers|stock)([./].*)?")
LOOPBACK_NAMES = frozenset({"localhost"})
Answer = Callable[[Refusal, str], ASGIApp]


class Access:
    """Refuses what must not come in, with `answer` making the refusal's response."""

    def __init__(self, app: ASGIApp, settings: Settings, answer: Answer) -> None:
        self._app = app
        self._settings = settings
        self._answer = answer
        self._names = LOOPBACK_NAMES | {name.lower() for name in settings.hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        refusal = self._refusal(scope["method"], scope["path"], scope.get("scheme", "http"), Headers(scope=scope))
        app = self._app if refusal is None else self._answer(refusal, scope["path"])
        await app(scope, receive, send)

    def _refusal(self, method: str, path: str, scheme: str, headers: Headers) -> Refusal | None:
        host = headers.get("host", "")
        if not self._is_ours(host):
            detail = f"the service does not answer under the name {host!r}; add it to the hosts in the settings"
            return Refusal("unknown-host", detail, accepted="a loopback name, an IP address, or a configured host")
        origin = headers.get("origin")
        foreign = origin is not None and origin not in {f"{scheme}://{host}", *self._settings.write_origins}
        if method in SAFE:
            if foreign and origin not in self._settings.read_origins and PERSONAL.fullmatch(path):
                detail = f"a page of {origin} may not read what names people; add it to the read origins by its name"
                return Refusal("foreign-origin", detail, accepted="a page of this service, or an origin that is named")
            return None
        if foreign:
            detail = f"a page of {origin} may not write here; add it to the write origins in the settings"
            return Refusal("foreign-origin", detail, accepted="a page of this service, or a configured origin")
        return self._token_refusal(headers)

    def _is_ours(self, host: str) -> bool:
        name = host.rpartition(":")[0] if not host.endswith("]") and ":" in host else host
        name = name.strip("[]").lower().rstrip(".")
        if name in self._names:
            return True
        try:
            ipaddress.ip_address(name)
        except ValueError:
            return False
        return True

    def _token_refusal(self, headers: Headers) -> Refusal | None:
        if self._settings.token is None:
            return None
        scheme, _, given = headers.get("authorization", "").partition(" ")
        wanted = self._settings.token.get_secret_value()
        if scheme.lower() == "bearer" and secrets.compare_digest(given.strip().encode(), wanted.encode()):
            return None
        return Refusal(
            "token-required",
            "a write needs the service's token; send the header Authorization: Bearer TOKEN",
            field="/headers/Authorization",
            accepted="the token that the service was started with",
            headers={"WWW-Authenticate": "Bearer"},
        )


class ClockDate:
    """Dates every answer by the service's own clock, against which a display measures ages."""

    def __init__(self, app: ASGIApp, clock: Clock) -> None:
        self._app = app
        self._clock = clock

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def dated(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                headers["Date"] = formatdate(self._clock.now_s(), usegmt=True)
                headers["X-Content-Type-Options"] = "nosniff"
            await send(message)

        await self._app(scope, receive, dated)
