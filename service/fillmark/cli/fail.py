"""One way to fail: one line on stderr that says what to do, and a status."""

from __future__ import annotations

from typing import NoReturn

import typer

BAD_INPUT = 2
"""Exit status for input that cannot be read."""

NOT_REACHED = 3
"""Exit status for a service that does not answer."""


def fail(message: str, status: int = BAD_INPUT) -> NoReturn:
    """Print one line to stderr and stop."""
    typer.echo(" ".join(message.split()), err=True)
    raise typer.Exit(status)
