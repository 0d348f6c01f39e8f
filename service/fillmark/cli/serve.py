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
    clock_epoch: EPOCH = None,
    clock_speed: SPEED = 1.0,
) -> None:
    """Serve the API and the live page until Ctrl-C."""
    from pydantic import SecretStr

    from fillmark.api.server import ServeError
    from fillmark.api.server import serve as run
    from fillmark.api.settings import Settings
    from fillmark.wire.clock import Clock

    settings = Settings(database=database, token=SecretStr(token) if token else None, hosts=tuple(allow_host or ()))
    try:
        clock = Clock(epoch_s=clock_epoch, speed=clock_speed)
        run(settings, host, port, clock=clock, ready=lambda url: typer.echo(f"Fillmark serves {url} (Ctrl-C stops)"))
    except (ServeError, ValueError) as error:
        fail(str(error))
