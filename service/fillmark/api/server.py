"""The server process: a socket, the application, and a stop that comes at once."""

from __future__ import annotations

import asyncio
import importlib.metadata
import ipaddress
import logging
import os
import socket
import ssl
from collections.abc import Callable

import uvicorn

from fillmark.api.app import create_app
from fillmark.api.service import Service
from fillmark.api.settings import Settings
from fillmark.outlets.announce import Announcer, Place, machine_name
from fillmark.store.log import LogError
from fillmark.wire.clock import Clock
from fillmark.wire.extras import MissingExtraError

_LOG = logging.getLogger(__name__)
GRACE_S = 2
BACKLOG = 256
Ready = Callable[[str], None]


class ServeError(Exception):
    """The service cannot be started; the sentence says what to do."""


class Server(uvicorn.Server):
    """uvicorn's server that lets streams go before it waits for requests, and tells when it is ready."""

    def __init__(
        self, config: uvicorn.Config, service: Service, url: str, ready: Ready | None, announcer: Announcer | None
    ) -> None:
        super().__init__(config)
        self._service = service
        self._announcer = announcer
        self._announcing: asyncio.Task[None] | None = None
        self._url = url
        self._ready = ready

    @property
    def failure(self) -> BaseException | None:
        """Why the service could not start."""
        return self._service.failure

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        """Start, then say so. Where that fails, `failure` says why."""
        try:
            await super().startup(sockets=sockets)
        except SystemExit:
            self.should_exit = True
        if self.started and self._ready is not None:
            self._ready(self._url)
        if self.started and self._announcer is not None:
            self._announcing = asyncio.create_task(self._announcer.start(), name="announcement")

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End the streams, then stop."""
        if self._service.running is not None:
            self._service.running.end_streams()
        if self._announcer is not None and self._announcing is not None:
            await asyncio.gather(self._announcing, return_exceptions=True)
            await self._announcer.stop()
        await super().shutdown(sockets=sockets)


def make_server(
    settings: Settings,
    host: str = "127.0.0.1",
    port: int = 0,
    *,
    clock: Clock | None = None,
    ready: Ready | None = None,
    announce: bool | None = None,
) -> tuple[Server, socket.socket]:
    """A server and its listening socket: `await server.serve([socket])`. Port 0 takes a free one.

    `announce` says whether the local network is told where the service is; None: when it listens beyond this machine.

    Raises:
        ServeError: the address or the certificate cannot be used, a network would be let in without a token, or a
            package is missing.
    """
    if settings.token is None and not _is_loopback(host):
        raise ServeError(f"{host} is open to the network: give a token for writes, or listen on 127.0.0.1")
    _check_certificate(settings)
    listening = _listen(host, port)
    announcer = None
    try:
        if announce or (announce is None and not _is_loopback(host)):
            announcer = _announcer(host, listening, must=bool(announce), secure=settings.certificate is not None)
            settings = settings.model_copy(update={"hosts": (*settings.hosts, f"{machine_name()}.local")})
        app = create_app(settings, clock=clock)
    except MissingExtraError as error:
        listening.close()
        raise ServeError(str(error)) from error
    config = uvicorn.Config(
        app,
        lifespan="on",
        access_log=False,
        log_config=None,
        date_header=False,
        server_header=False,
        timeout_graceful_shutdown=GRACE_S,
        ws="none",
        ssl_certfile=settings.certificate,
        ssl_keyfile=settings.certificate_key,
    )
    url = _url(listening) if settings.certificate is None else _url(listening).replace("http:", "https:", 1)
    return Server(config, app.state.service, url, ready, announcer), listening


def serve(
    settings: Settings,
    host: str = "127.0.0.1",
    port: int = 8000,
    *,
    clock: Clock | None = None,
    ready: Ready | None = None,
    announce: bool | None = None,
) -> None:
    """Serve until SIGINT or SIGTERM. `ready` is called with the address as soon as requests are taken.

    Raises:
        ServeError: the service cannot be started.
        KeyboardInterrupt: it was stopped by SIGINT, after everything was written.
    """
    server, listening = make_server(settings, host, port, clock=clock, ready=ready, announce=announce)
    logging.getLogger("uvicorn.error").addFilter(_without_startup_traces)
    server.run(sockets=[listening])
    failure = server.failure
    if isinstance(failure, LogError):
        raise ServeError(str(failure)) from failure
    if failure is not None:
        raise failure


def _check_certificate(settings: Settings) -> None:
    """Read it once, so that a fault is one sentence at start."""
    if settings.certificate is None:
        if settings.certificate_key is not None:
            raise ServeError("a key without its certificate is of no use; give both, or none")
        return
    try:
        ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(
            settings.certificate, settings.certificate_key, password=lambda: ""
        )
    except (OSError, ValueError) as error:
        where = settings.certificate if settings.certificate_key is None else settings.certificate_key
        raise ServeError(
            f"{settings.certificate} and its key {where} are no certificate chain and key in PEM ({error})"
        ) from error


def _announcer(host: str, listening: socket.socket, *, must: bool, secure: bool) -> Announcer | None:
    """The announcer. Where nobody has asked for it, a missing package is no reason not to serve."""
    try:
        return Announcer(Place(host, listening.getsockname()[1], importlib.metadata.version("fillmark"), secure))
    except MissingExtraError as error:
        if must:
            raise
        _LOG.info("the service is not announced on the network: %s", error)
        return None


def _without_startup_traces(record: logging.LogRecord) -> bool:
    """What went wrong at start is said once, by whoever called."""
    return "Traceback" not in record.getMessage() and "startup failed" not in record.getMessage()


def _is_loopback(host: str) -> bool:
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost"


def _listen(host: str, port: int) -> socket.socket:
    """A listening socket. Its protocol is named: asyncio sends at once (TCP_NODELAY) only where it sees that it is TCP.

    Without that every answer waits 40 ms for the client's delayed acknowledgement.
    """
    listening = None
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE)[0]
        listening = socket.socket(found[0], socket.SOCK_STREAM, socket.IPPROTO_TCP)
        if os.name == "posix":
            listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind(found[4])
        listening.listen(BACKLOG)
    except OSError as error:
        if listening is not None:
            listening.close()
        raise ServeError(f"{host}:{port} cannot be listened on ({error.strerror}): choose another port") from error
    return listening


def _url(listening: socket.socket) -> str:
    host, port = listening.getsockname()[:2]
    host = {"0.0.0.0": "127.0.0.1", "::": "::1"}.get(host, host)  # noqa: S104 - an address to be shown, not bound
    return f"http://[{host}]:{port}" if ":" in host else f"http://{host}:{port}"
