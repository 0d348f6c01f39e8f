"""The command `fillmark-agent`.

Exit status: 0 stopped cleanly or everything delivered, 1 a device or the spool failed, 2 the configuration or the
command line is wrong.
"""

from __future__ import annotations

import argparse
import asyncio
import importlib
import logging
import os
import signal
import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from fillmark.wire.clock import Clock
from fillmark.wire.extras import MissingExtraError
from fillmark_agent.config import AgentConfig
from fillmark_agent.config_file import ConfigError, load
from fillmark_agent.run import run
from fillmark_agent.spool import SpoolError

__all__ = ["main", "run"]

_FAILED = 1
_WRONG = 2
TERMINAL: Mapping[str, str] = {
    "scan": "List the Bluetooth devices that are near, and what they offer.",
    "bind": "Connect to a Bluetooth device, show what it offers, and write it into a configuration.",
    "calibrate": "Compare a channel with a reference, and write zero and span into a configuration.",
}
"""Commands for people; each is a module of `fillmark_agent.commands`."""
_STOPS = (signal.SIGINT, signal.SIGTERM)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command. `arguments` are those of the process when None; the exit status is returned."""
    words = sys.argv[1:] if arguments is None else list(arguments)
    if words and words[0] in TERMINAL:
        return _at_terminal(words)
    given = _parser().parse_args(words)
    config, clock = _loaded(given)
    if config is None or clock is None:
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


def _loaded(given: argparse.Namespace) -> tuple[AgentConfig | None, Clock | None]:
    """Configuration and clock; None with its problems said."""
    config, clock = None, None
    try:
        config = load(given.config, os.environ)
        clock = Clock(epoch_s=given.clock_epoch, speed=given.clock_speed)
    except ConfigError as error:
        for problem in error.problems:
            _say(problem)
    except ValueError as error:
        _say(f"--clock-speed: {error}")
    return config, clock


def _at_terminal(words: Sequence[str]) -> int:
    """A command that does something for a person and ends."""
    name, *rest = words
    command: Any = importlib.import_module(f"fillmark_agent.commands.{name}")
    parser = argparse.ArgumentParser(prog=f"fillmark-agent {name}", description=TERMINAL[name])
    command.add(parser)
    logging.basicConfig(level=logging.WARNING, stream=sys.stderr, format="%(levelname)s %(message)s")
    try:
        return int(command.run(parser.parse_args(rest)))
    except MissingExtraError as error:
        _say(error)
        return _WRONG
    except KeyboardInterrupt:
        return _FAILED


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
        epilog="Other commands, each with its own --help: " + ", ".join(TERMINAL),
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
