"""`fillmark serve`: the local service."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fillmark.cli.fail import fail

EPOCH = Annotated[float | None, typer.Option(hidden=True, help="Unix time at which a clock faster than life begins.")]
SPEED = Annotated[float, typer.Option(hidden=True, help="How many times faster than life the clock runs.")]


def serve(
    host: Annotated[
        str, typer.Option(help="Address to listen on. Beyond this machine a token is needed.")
    ] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=0, max=65535, help="Port; 0 takes a free one.")] = 8000,
    database: Annotated[Path, typer.Option(help="File of the log.")] = Path("fillmark.sqlite"),
    token: Annotated[
        str, typer.Option(envvar="FILLMARK_TOKEN", help="Bearer token for writes; reading stays open.")
    ] = "",
    allow_host: Annotated[
        list[str] | None, typer.Option(help="Name by which others reach this machine, as shop.local; repeat it.")
    ] = None,
    certificate: Annotated[
        Path | None, typer.Option(help="Certificate chain in PEM: the page is served by https, and tablets install it.")
    ] = None,
    certificate_key: Annotated[Path | None, typer.Option(help="Its key in PEM, where it is a file of its own.")] = None,
    announce: Annotated[
        bool | None,
        typer.Option(help="Tell the local network by mDNS where the service is. Without this: beyond this machine."),
    ] = None,
    webhook: Annotated[
        list[str] | None,
        typer.Option(help="Address that is told of every change of a stop point; repeat it. Needs a secret."),
    ] = None,
    webhook_secret: Annotated[
        str, typer.Option(envvar="FILLMARK_WEBHOOK_SECRET", help="Key that signs webhooks, as whsec_ and base64.")
    ] = "",
    mqtt: Annotated[str, typer.Option(help="Broker to publish to, as mqtt://127.0.0.1:1883.")] = "",
    mqtt_prefix: Annotated[str, typer.Option(help="Beginning of all topics on the broker.")] = "fillmark",
    mqtt_user: Annotated[str, typer.Option(envvar="FILLMARK_MQTT_USER", help="User name at the broker.")] = "",
    mqtt_password: Annotated[
        str, typer.Option(envvar="FILLMARK_MQTT_PASSWORD", help="Password at the broker; better in the environment.")
    ] = "",
    clock_epoch: EPOCH = None,
    clock_speed: SPEED = 1.0,
) -> None:
    """Serve the API and the live page until Ctrl-C."""
    from pydantic import ValidationError

    from fillmark.api.server import ServeError
    from fillmark.api.server import serve as run
    from fillmark.api.settings import Settings
    from fillmark.wire.clock import Clock

    hooks = [{"url": url, "secret": webhook_secret} for url in webhook or ()]
    broker = {"broker": mqtt, "prefix": mqtt_prefix, "username": mqtt_user or None, "password": mqtt_password or None}
    given = {"database": database, "token": token or None, "hosts": tuple(allow_host or ()), "webhooks": hooks}
    given |= {"certificate": certificate, "certificate_key": certificate_key}
    try:
        settings = Settings.model_validate({**given, "mqtt": broker if mqtt else None})
    except ValidationError as error:
        fail(error.errors()[0]["msg"].removeprefix("Value error, "))
    try:
        clock = Clock(epoch_s=clock_epoch, speed=clock_speed)
        run(settings, host, port, clock=clock, ready=_say_where, announce=announce)
    except (ServeError, ValueError) as error:
        fail(str(error))


def _say_where(url: str) -> None:
    typer.echo(f"Fillmark serves {url} (Ctrl-C stops)")
