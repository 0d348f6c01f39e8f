"""What the commands share: the radio, and writing into a configuration without touching the rest of it."""

from __future__ import annotations

import argparse
from pathlib import Path

import tomlkit
from tomlkit.exceptions import TOMLKitError

from fillmark_agent.bluetooth.radio import NoCare, Radio

FAILED = 1
WRONG = 2


class CommandError(Exception):
    """The command cannot be done; the text says why and what would do."""


def add_radio(parser: argparse.ArgumentParser) -> None:
    """The option that every command with a radio has."""
    parser.add_argument(
        "--simulated", action="store_true", help="use a simulated bay's instruments in memory instead of a radio"
    )


def radio_of(given: argparse.Namespace) -> Radio:
    """The system's adapter, or one in memory. Needs a running loop."""
    return simulated_radio() if given.simulated else Radio()


def simulated_radio() -> Radio:
    """An adapter in memory that hears a simulated bay's instruments; the scale weighs a container at rest.

    Raises:
        MissingExtraError: the stack in memory is not installed.
    """
    from fillmark_sim.bluetooth.bay import BayOnAir  # noqa: PLC0415 - only when asked for

    bay = BayOnAir()
    return Radio(bay.adapter.scanner, bay.adapter.client, NoCare(), begin=bay.at_rest)


def read_document(path: Path) -> tomlkit.TOMLDocument:
    """The configuration as it is written, empty when there is none yet.

    Raises:
        CommandError: it cannot be read.
    """
    if not path.exists():
        return tomlkit.document()
    try:
        return tomlkit.parse(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError, TOMLKitError) as error:
        raise CommandError(f"{path} cannot be read: {error}") from error


def write_document(path: Path, document: tomlkit.TOMLDocument) -> None:
    """Write the configuration whole or not at all.

    Raises:
        CommandError: it cannot be written.
    """
    beside = path.with_name(f".{path.name}.new")
    try:
        beside.write_text(tomlkit.dumps(document), encoding="utf-8")
        beside.replace(path)
    except OSError as error:
        raise CommandError(f"{path} cannot be written: {error}") from error
