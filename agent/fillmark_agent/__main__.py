"""The command `fillmark-agent`.

Exit status: 0 stopped cleanly or everything delivered, 1 a device or the spool failed, 2 the configuration or the
command line is wrong.
"""

from __future__ import annotations

import argparse
import asyncio
import logging
import os
import signal
import sys
from collections.abc import Sequence
from pathlib import Path

from fillmark.wire.clock import Clock
from fillmark.wire.extras import MissingExtraError
from fillmark_agent.config import AgentConfig
from fillmark_agent.config_file import ConfigError, load
from fillmark_agent.run import run
from fillmark_agent.spool import SpoolError

__all__ = ["main", "run"]

_FAILED = 1
_WRONG = 2
_STOPS = (signal.SIGINT, signal.SIGTERM)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command. `arguments` are those of the process when None; the exit status is returned."""
    given = _parser().parse_args(arguments)
    try:
        config = load(given.config, os.environ)
        clock = Clock(epoch_s=given.clock_epoch, speed=given.clock_speed)
    except ConfigError as error:
        for problem in error.problems:
            _say(problem)
        return _WRONG
    except ValueError as error:
        _say(f"--clock-speed: {error}")
        return _WRONG
    if given.command == "check-config":
        _say(f"{given.config}: good, {len(config.devices)} devices")
        return 0
    logging.basicConfig(
        level=config.log.level.upper(), stream=sys.stderr, format="%(asctime)s %(levelname)s %(message)s"
    )
    logging.getLogger("httpx").setLevel(logging.WARNING)
    logging.getLogger("httpcore").setLevel(logging.WARNING)
    try:
        return asyncio.run(_until_signalled(config, clock))
    except SpoolError as error:
        _say(error)
        return _FAILED
    except MissingExtraError as error:
        _say(f"{given.config}: {error}")
        return _WRONG


async def _until_signalled(config: AgentConfig, clock: Clock) -> int:
    stop = asyncio.Event()
    loop = asyncio.get_running_loop()
    for number in _STOPS:
        try:
            loop.add_signal_handler(number, stop.set)
        except NotImplementedError:  # a loop that has no signal handlers, as on Windows
            signal.signal(number, lambda *_: loop.call_soon_threadsafe(stop.set))
    status = await run(config, clock=clock, stop=stop)
    return _FAILED if status.broken else 0


def _say(text: object) -> None:
    sys.stderr.write(f"{text}\n")


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="fillmark-agent",
        description="Reads a bay's devices and sends their readings to the Fillmark service. Readings wait on disk "
        "until the service has acknowledged them.",
    )
    parser.add_argument(
        "command", nargs="?", choices=("run", "check-config"), default="run", help="what to do (default: run)"
    )
    parser.add_argument("--config", type=Path, required=True, metavar="FILE", help="the configuration, TOML")
    parser.add_argument("--clock-epoch", type=float, metavar="SECONDS", help="Unix time at which a faster clock begins")
    parser.add_argument(
        "--clock-speed", type=float, default=1.0, metavar="N", help="how many times faster than life (default: 1)"
    )
    return parser


if __name__ == "__main__":
    sys.exit(main())
