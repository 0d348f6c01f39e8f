"""`fillmark record`: make the record of a job from its log, and hold a record against a log."""

from __future__ import annotations

import asyncio
import errno
import json
import os
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from fillmark.cli.fail import fail

if TYPE_CHECKING:
    from fillmark.report.forms import Form

DIFFERS = 1
"""Exit status of `verify` when something differs."""

LogOption = Annotated[
    Path | None, typer.Option(help="A recorded stream, or a log exported with GET /v1/jobs/JOB/log?format=stream.")
]
DatabaseOption = Annotated[Path | None, typer.Option(help="The file of a service that is not running; needs --job.")]
JobOption = Annotated[str, typer.Option(help="Which job, where the log holds several, as bay-1.3.")]

app = typer.Typer(help="Make the record of a job from its log, or verify one.", invoke_without_command=True)


@app.callback()
def record(
    context: typer.Context,
    log: LogOption = None,
    database: DatabaseOption = None,
    job: JobOption = "",
    out: Annotated[
        list[Path] | None,
        typer.Option(help="NAME.json, .html, .pdf, .csv or NAME.label.pdf; repeat it. Without: JSON to the terminal."),
    ] = None,
) -> None:
    """Make the record of a job from its log: the same log gives the same bytes."""
    if context.invoked_subcommand is not None:
        return
    from fillmark.intake.replay import StreamError
    from fillmark.report.document import record_of
    from fillmark.report.forms import NothingChargedError, as_json

    wanted = [(path, _form(path)) for path in out or ()]
    source, lines = _lines(log, database, job)
    try:
        made = record_of(lines, job or None)
    except StreamError as error:
        fail(f"{source}: {error}")
    if not wanted:
        typer.echo(as_json(made), nl=False)
    for path, form in wanted:
        try:
            path.write_bytes(form.render(made))
        except NothingChargedError as error:
            fail(f"{path}: {error}")
        except OSError as error:
            fail(f"{path}: {error.strerror}; choose another place with --out")
        typer.echo(f"{path}: {made['job']['id']}, {made['log']['lines']} lines of log, hash {made['log']['hash']}")


@app.command()
def verify(
    record_file: Annotated[
        Path | None, typer.Argument(metavar="RECORD", help="The record as JSON; leave it out with --hash.")
    ] = None,
    log: LogOption = None,
    database: DatabaseOption = None,
    job: JobOption = "",
    printed: Annotated[str, typer.Option("--hash", help="The hash from a printed record; blanks do not count.")] = "",
) -> None:
    """Say whether a record and a log belong together, and which lines and figures differ. Exit status 1 if any do."""
    if (record_file is None) == (not printed):
        fail("give either a record as JSON or the hash of a printed one with --hash")
    made = None if record_file is None else _read(record_file)
    if made is not None and database is not None and not job:
        job = _job_of(made)
    source, lines = _lines(log, database, job)
    same, said = _compared(made, lines) if made is not None else _held(printed, source, lines)
    for line in said:
        typer.echo(line)
    if not same:
        raise typer.Exit(DIFFERS)


def _compared(made: object, lines: Iterable[str]) -> tuple[bool, tuple[str, ...]]:
    from fillmark.report.verify import NotARecordError
    from fillmark.report.verify import verify as compare

    try:
        verdict = compare(made, lines)
    except NotARecordError as error:
        fail(str(error))
    return verdict.same, verdict.said


def _held(printed: str, source: str, lines: Iterable[str]) -> tuple[bool, tuple[str, ...]]:
    from fillmark.intake.replay import StreamError
    from fillmark.report.chain import chain
    from fillmark.report.retrace import retrace

    try:
        found = chain(retrace(lines).lines)
    except StreamError as error:
        fail(f"{source}: {error}")
    if "".join(printed.split()).lower() == found.head:
        return True, (f"the log is the one of the printed record: {len(found.marks)} lines",)
    return False, (f"the log gives another hash: {found.head}", "the record as JSON would tell which line differs")


def _form(path: Path) -> Form:
    from fillmark.report.forms import FORMS, LABEL

    if path.name.endswith(".label.pdf"):
        return LABEL
    form = FORMS.get(path.suffix.removeprefix("."))
    if form is None:
        fail(f"{path}: a record is written as .json, .html, .pdf or .csv, its label as .label.pdf")
    return form


def _lines(log: Path | None, database: Path | None, job: str) -> tuple[str, list[str]]:
    """Where the lines are from, and the lines."""
    if (log is None) == (database is None):
        fail("give either --log with a stream or --database with the file of a service")
    source = log or database
    try:
        if log is not None:
            text = sys.stdin.buffer.read() if str(log) == "-" else log.read_bytes()
            return str(log), text.decode().splitlines()
        if not Path(str(database)).is_file():
            raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT))
        return str(database), asyncio.run(_exported(database, job))  # type: ignore[arg-type]  # one of both is given
    except UnicodeDecodeError as error:
        fail(f"{source}: {error}; a stream is UTF-8")
    except OSError as error:
        fail(f"{source}: {error.strerror or error}; name a file that is there")


async def _exported(database: Path, job_id: str) -> list[str]:
    from fillmark.api.export import export
    from fillmark.api.restore import open_log, restored
    from fillmark.api.settings import Settings
    from fillmark.store.log import LogError
    from fillmark.wire.clock import Clock

    settings = Settings(database=database)
    try:
        opened = await open_log(settings)
    except LogError as error:
        fail(str(error))
    try:
        keeper = await restored(settings, opened, Clock())
        jobs = keeper.workshop.jobs
        if job_id not in jobs:
            fail(f"{database}: name one of its jobs with --job: {', '.join(jobs) or 'it holds none'}")
        return b"".join([chunk async for chunk in export(opened, jobs[job_id])]).decode().splitlines()
    except LogError as error:
        fail(str(error))
    finally:
        await opened.close()


def _read(path: Path) -> object:
    try:
        found: object = json.loads(path.read_bytes())
    except OSError as error:
        fail(f"{path}: {error.strerror}; name the record's JSON form")
    except ValueError as error:
        fail(f"{path}: it is not JSON ({error}); name the record's JSON form")
    return found


def _job_of(made: Any) -> str:  # noqa: ANN401 - whatever the file holds
    try:
        return str(made["job"]["id"])
    except (KeyError, TypeError, IndexError):
        fail("it is no record of a job; give the JSON form, as record.json")
