"""`fillmark replay`: fold a recorded stream and print what the service would have shown."""

from __future__ import annotations

import io
import json
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Annotated

import typer

from fillmark.cli.fail import fail


def replay(
    stream: Annotated[str, typer.Argument(help="NAME.senml.jsonl, one SenML pack a line; - reads standard input.")],
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object.")] = False,
    full: Annotated[
        bool, typer.Option("--full", help="With --json: everything a display gets, not the summary.")
    ] = False,
) -> None:
    """Replay a recorded stream as fast as possible: masses, stop points and when they were raised.

    The same stream gives the same bytes on every machine. Exit status 2 when the stream cannot be read.
    """
    from fillmark.engine.view import job_view, summary
    from fillmark.engine.workshop import Workshop
    from fillmark.intake.replay import StreamError
    from fillmark.intake.replay import replay as fold_stream

    state = Workshop()
    try:
        for state in fold_stream(_lines(stream, quiet=as_json)):  # noqa: B007 - the last state is wanted
            pass
    except OSError as error:
        fail(f"{stream}: {error.strerror or error}; give a stream NAME.senml.jsonl, or - for standard input")
    except UnicodeDecodeError as error:
        fail(f"{stream}: {error}; a stream is UTF-8")
    except StreamError as error:
        fail(f"{stream}: {error}")
    if not state.jobs:
        fail(f"{stream}: no job is opened in this stream; its first action must be job.open on the channel BAY/action")
    view = job_view if full else summary
    jobs = [view(job) for job in state.jobs.values()]
    if as_json:
        document = {"jobs": jobs, "unassigned": state.unassigned}
        # As bytes, so that the terminal's own encoding changes none of them.
        typer.echo(json.dumps(document, ensure_ascii=False, indent=2, allow_nan=False).encode())
        return
    from fillmark.cli.tables import print_job

    for job in state.jobs.values():
        print_job(job)


def _lines(stream: str, *, quiet: bool) -> Iterator[str]:
    if stream == "-":
        yield from io.TextIOWrapper(sys.stdin.buffer, encoding="utf-8")
        return
    path = Path(stream)
    with path.open(encoding="utf-8") as file:
        yield from file if quiet else _with_progress(file, path.stat().st_size)


def _with_progress(lines: Iterable[str], size: int) -> Iterator[str]:
    from rich.console import Console
    from rich.progress import Progress

    console = Console(stderr=True)
    with Progress(console=console, transient=True, disable=not console.is_terminal) as progress:
        task = progress.add_task("replaying", total=size)
        for line in lines:
            progress.advance(task, len(line))
            yield line
