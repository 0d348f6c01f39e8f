"""`fillmark record` and `fillmark record verify`."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from fillmark.store.log import Identity, LogEntry
from fillmark.store.sqlite import SqliteLog

Run = Callable[..., Any]


def test_without_a_place_the_record_is_printed(run: Run, stream: Path) -> None:
    outcome = run("record", "--log", stream)
    assert (outcome.status, outcome.err) == (0, "")
    record = json.loads(outcome.out)
    assert record["charge"]["charged_kg"] == pytest.approx(0.340, abs=0.004)
    assert record["log"]["lines"] == len(stream.read_text().splitlines())


def test_each_place_has_its_form(run: Run, stream: Path, tmp_path: Path) -> None:
    begins = {"r.json": b"{", "r.html": b"<!doctype html>", "r.pdf": b"%PDF-", "r.csv": b"\xef\xbb\xbfsection,",
              "r.label.pdf": b"%PDF-"}  # fmt: skip
    wanted = [argument for name in begins for argument in ("--out", tmp_path / name)]
    outcome = run("record", "--log", stream, *wanted)
    assert (outcome.status, outcome.err) == (0, "")
    for name, begin in begins.items():
        assert (tmp_path / name).read_bytes().startswith(begin)
    assert (tmp_path / "r.pdf").read_bytes() != (tmp_path / "r.label.pdf").read_bytes()
    assert outcome.out.count("hash ") == len(begins)


@pytest.fixture
def record(run: Run, stream: Path, tmp_path: Path) -> Path:
    path = tmp_path / "r.json"
    assert run("record", "--log", stream, "--out", path).status == 0
    return path


def test_verify_says_that_they_belong_together(run: Run, record: Path, stream: Path) -> None:
    outcome = run("record", "verify", record, "--log", stream)
    assert (outcome.status, outcome.err) == (0, "")
    assert outcome.out.splitlines()[1] == "the record says what the log says"


def test_verify_catches_one_changed_digit_and_names_its_line(run: Run, record: Path, stream: Path) -> None:
    lines = stream.read_text().splitlines()
    assert '"v": 0.924}' in lines[70]
    lines[70] = lines[70].replace('"v": 0.924}', '"v": 0.934}')
    stream.write_text("\n".join(lines) + "\n")
    outcome = run("record", "verify", record, "--log", stream)
    assert outcome.status == 1
    assert outcome.out.splitlines() == [
        "the log is not the one of the record: 1 difference(s)",
        "line 71 is not what it was",
    ]


def test_the_printed_hash_is_enough_to_notice(run: Run, record: Path, stream: Path) -> None:
    printed = json.loads(record.read_text())["log"]["hash"]
    spaced = " ".join(printed[place : place + 8] for place in range(0, 64, 8)).upper()
    assert run("record", "verify", "--hash", spaced, "--log", stream).status == 0
    other = run("record", "verify", "--hash", "0" * 64, "--log", stream)
    assert other.status == 1
    assert printed in other.out


def written(path: Path, stream: Path) -> None:
    """The stream's lines as the log of a service."""

    lines = stream.read_text().splitlines()

    async def write() -> None:
        log = await SqliteLog.open(path)
        entries = []
        for position, line in enumerate(lines, start=1):
            (one,) = json.loads(line)
            identity = Identity(one["n"], one["t"], f"{position}" if "vs" in one else "")
            entries.append(LogEntry(position, one["t"], "bay-1", line, (identity,)))
        await log.append(entries)
        await log.close()

    asyncio.run(write())


def test_a_database_gives_a_record_that_holds_against_it(run: Run, stream: Path, tmp_path: Path) -> None:
    database, path = tmp_path / "log.sqlite", tmp_path / "r.json"
    written(database, stream)
    assert run("record", "--database", database, "--job", "bay-1.1", "--out", path).status == 0
    record = json.loads(path.read_text())
    assert record["charge"]["charged_kg"] == pytest.approx(0.340, abs=0.004)
    assert run("record", "verify", path, "--database", database).status == 0
    missing = run("record", "--database", database)
    assert missing.one_line == f"{database}: name one of its jobs with --job: bay-1.1"


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["record"], "give either --log with a stream or --database with the file of a service"),
        (["record", "--log", "{tmp}/no.jsonl"], "{tmp}/no.jsonl: No such file or directory; name a file that is there"),
        (["record", "--database", "{tmp}/no.db", "--job", "x"], "{tmp}/no.db: No such file or directory; name a file"),
        (["record", "--log", "{stream}", "--job", "x"], "there is no job x in this log; it holds bay-1.1"),
        (["record", "--log", "{stream}", "--out", "r.docx"], "r.docx: a record is written as .json"),
        (["record", "--log", "{stream}", "--out", "{tmp}/no/r.json"], "{tmp}/no/r.json: No such file or directory"),
        (["record", "verify", "--log", "{stream}"], "give either a record as JSON or the hash"),
        (["record", "verify", "{stream}", "--log", "{stream}"], "{stream}: it is not JSON"),
        (["record", "verify", "{tmp}/no.json", "--log", "{stream}"], "{tmp}/no.json: No such file or directory"),
    ],
)
def test_what_cannot_be_done_is_one_line(
    run: Run, stream: Path, tmp_path: Path, arguments: list[str], said: str
) -> None:
    places = {"tmp": str(tmp_path), "stream": str(stream)}
    outcome = run(*(argument.format_map(places) for argument in arguments))
    assert (outcome.status, outcome.out) == (2, "")
    assert said.format_map(places) in outcome.one_line
    assert not (tmp_path / "no.db").exists()
