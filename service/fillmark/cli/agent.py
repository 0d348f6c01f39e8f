"""`fillmark agent`: the ingestion agent, also installed as `fillmark-agent`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from fillmark.cli.serve import EPOCH, SPEED


def agent(
    config: Annotated[Path, typer.Option(help="Configuration of the devices, TOML.")],
    check: Annotated[bool, typer.Option("--check", help="Only say whether the configuration is right.")] = False,
    clock_epoch: EPOCH = None,
    clock_speed: SPEED = 1.0,
) -> None:
    """Read the devices of a bay and send their readings to the service, through outages."""
    from fillmark_agent.__main__ import main

    arguments = ["check-config" if check else "run", "--config", str(config), "--clock-speed", str(clock_speed)]
    if clock_epoch is not None:
        arguments += ["--clock-epoch", repr(clock_epoch)]
    raise typer.Exit(main(arguments))
