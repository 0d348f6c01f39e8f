"""`fillmark replay`: what the design promises of it.

The charge in `lines` is arithmetic: 1.000 kg on the pan before, 0.660 kg after, so 340 g were drawn of 500 g.
"""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]

JOB_KEYS = {
    "step", "charged_kg", "charged_u_kg", "dispensed_kg", "hose_kg", "probability_in_window", "containers",
    "stop_points", "steps",
}  # fmt: skip


def test_json_has_the_promised_keys_and_the_weighed_masses(run: Run, stream: Path) -> None:
    outcome = run("replay", stream, "--json")
    assert (outcome.status, outcome.err) == (0, "")
    (job,) = json.loads(outcome.out)["jobs"]
    assert set(job) >= JOB_KEYS
    assert job["dispensed_kg"] == pytest.approx(0.340, abs=0.001)
    assert job["charged_kg"] == pytest.approx(0.340, abs=max(0.001, 2 * job["charged_u_kg"]))
    assert 0.0 < job["charged_u_kg"] < 0.01
    assert 0.0 <= job["probability_in_window"] <= 1.0
    (container,) = job["containers"]
    assert set(container) >= {"id", "drawn_kg", "left_kg"}
    assert container["id"] == "C1"
    assert container["drawn_kg"] + container["left_kg"] == pytest.approx(0.5, abs=1e-5)
    assert job["steps"]["charging"]["ended"] > job["steps"]["charging"]["began"]
    assert {"close-valve-now", "window-reached", "aim-reached"} <= {row["id"] for row in job["stop_points"]}
    for row in job["stop_points"]:
        assert set(row) >= {"id", "severity", "at", "text"}
        assert row["severity"] in {"critical", "warning", "notice"}


def test_full_json_adds_what_a_display_gets(run: Run, stream: Path) -> None:
    (short,) = json.loads(run("replay", stream, "--json").out)["jobs"]
    (full,) = json.loads(run("replay", stream, "--json", "--full").out)["jobs"]
    assert short.items() <= full.items()
    assert set(full) - set(short) >= {"budget", "valves", "readings", "plan", "active", "opened_at", "closed_at"}


def test_a_dash_reads_standard_input(run: Run, stream: Path) -> None:
    assert run("replay", "-", "--json", stdin=stream.read_bytes()) == run("replay", stream, "--json")


def test_people_get_tables(run: Run, stream: Path) -> None:
    outcome = run("replay", stream)
    assert (outcome.status, outcome.err) == (0, "")
    assert "R-134a, window 330.0 g to 350.0 g, aim 340.0 g" in outcome.out
    assert "close-valve-now" in outcome.out


def test_square_brackets_in_a_name_are_no_markup(run: Run, tmp_path: Path, lines: list[str]) -> None:
    path = tmp_path / "x.senml.jsonl"
    path.write_text("\n".join(line.replace('\\"C1\\"', '\\"[/bold]\\"') for line in lines), encoding="utf-8")
    outcome = run("replay", path)
    assert (outcome.status, outcome.err) == (0, "")
    assert "[/bold]" in outcome.out


def test_the_same_stream_gives_the_same_bytes_everywhere(run: Run, process: Run, stream: Path) -> None:
    """In this process twice, in others with other hashes, another locale and another encoding of the terminal."""
    note = '{"type": "note", "text": "Schlauch getauscht, 20 °C"}'
    record = json.dumps([{"n": "bay-1/action", "t": 1_790_000_000.5, "vs": note}], ensure_ascii=False)
    text = stream.read_text(encoding="utf-8").replace("\n", f"\n{record}\n", 1)
    stream.write_text(text, encoding="utf-8")
    arguments = ("replay", stream, "--json", "--full")
    first = run(*arguments)
    assert first.status == 0
    assert "getauscht, 20 °C" in first.out
    assert run(*arguments) == first
    assert process(*arguments, PYTHONHASHSEED="1") == first
    assert process(*arguments, PYTHONHASHSEED="4242", LC_ALL="C", PYTHONIOENCODING="latin-1") == first
    piped = ("replay", "-", "--json", "--full")
    assert process(*piped, stdin=text.encode(), PYTHONHASHSEED="7", PYTHONIOENCODING="latin-1") == first


SCALE = '[{"n":"bay-1/scale/mass","u":"kg","t":1790000001,"v":1}]'
OPENING = (
    r'[{"n":"bay-1/action","t":1790000000,"vs":"{\"type\":\"job.open\",\"circuit\":{\"refrigerant\":\"R-134a\",'
    r'\"charge_min\":\"480 g\",\"charge_max\":\"520 g\"},\"scale\":{\"resolution\":\"1 g\"}}"}]'
)
BROKEN = {
    "empty file": (b"", "no job is opened in this stream"),
    "blank lines only": (b"\n  \n", "no job is opened in this stream"),
    "no job": (SCALE.encode(), "no job is opened in this stream; its first action must be job.open"),
    "broken JSON": (b'[{"n":"bay-1/scale/mass"', "line 1: pack: not JSON"),
    "no array": (b'{"n":"bay-1/scale/mass","v":1}', "line 1: "),
    "missing value": (b'[{"n":"bay-1/scale/mass","u":"kg","t":1790000001}]', "line 1: /0: the record has no value"),
    "bad base": (b'[{"bt":"now","n":"bay-1/scale/mass","v":1}]', "line 1: /0/bt: "),
    "unknown label that must be understood": (b'[{"n":"bay-1/scale/mass","v":1,"t":1,"x_":2}]', "line 1: /0/x_: "),
    "NaN": (b'[{"n":"bay-1/scale/mass","u":"kg","t":1790000001,"v":NaN}]', "line 1: "),
    "infinite": (b'[{"n":"bay-1/scale/mass","u":"kg","t":1790000001,"v":1e999}]', "line 1: "),
    "wrong unit": (b'[{"n":"bay-1/scale/mass","u":"Pa","t":1790000001,"v":1}]', "line 1: /0/u: "),
    "action out of order": (
        rb'[{"n":"bay-1/action","t":1790000001,"vs":"{\"type\":\"step.begin\",\"step\":\"charging\"}"}]',
        "line 1: ",
    ),
    "second opening": (f"{OPENING}\n{OPENING.replace('1790000000', '1790000009')}".encode(), "line 2: "),
    "unknown action": (rb'[{"n":"bay-1/action","t":1790000001,"vs":"{\"type\":\"vent\"}"}]', "line 1: /0/vs/type: "),
    "action that is no JSON": (b'[{"n":"bay-1/action","t":1790000001,"vs":"open"}]', "line 1: /0/vs: "),
    "unknown refrigerant": (
        OPENING.replace("R-134a", "R-999").encode(),
        "line 1: /0/vs/circuit/refrigerant: Unknown refrigerant 'R-999'; give one of R-134a",
    ),
    "not UTF-8": (f"{OPENING}\n".encode() + b'[{"n":"bay-1/\xfc"}]', "a stream is UTF-8"),
    "zeros": (b"\0\0\0", "line 1: pack: not JSON"),
    "deeply nested": (b"[" * 100_000, "line 1: pack: not JSON"),
}


@pytest.mark.parametrize("flags", [("--json",), ()], ids=["json", "tables"])
@pytest.mark.parametrize("what", BROKEN)
def test_what_cannot_be_read_is_one_line_and_status_two(
    run: Run, tmp_path: Path, what: str, flags: tuple[str, ...]
) -> None:
    content, said = BROKEN[what]
    path = tmp_path / "broken.senml.jsonl"
    path.write_bytes(content)
    outcome = run("replay", path, *flags)
    assert (outcome.status, outcome.out) == (2, "")
    assert outcome.one_line.startswith(f"{path}: ")
    assert said in outcome.one_line
    piped = run("replay", "-", *flags, stdin=content)
    assert (piped.status, piped.out) == (2, "")
    assert said in piped.one_line


def test_standard_input_that_is_not_utf_8_is_refused_in_every_locale(process: Run) -> None:
    outcome = process("replay", "-", "--json", stdin=BROKEN["not UTF-8"][0], LC_ALL="C", PYTHONUTF8="0")
    assert (outcome.status, outcome.out) == (2, "")
    assert "a stream is UTF-8" in outcome.one_line


@pytest.mark.parametrize("flags", [("--json",), ()], ids=["json", "tables"])
@pytest.mark.parametrize("path", ["nowhere.senml.jsonl", "."])
def test_a_missing_file_and_a_folder_are_named(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, path: str, flags: tuple[str, ...]
) -> None:
    monkeypatch.chdir(tmp_path)
    outcome = run("replay", path, *flags)
    assert (outcome.status, outcome.out) == (2, "")
    assert outcome.one_line.startswith(f"{path}: ")
    assert outcome.one_line.endswith("give a stream NAME.senml.jsonl, or - for standard input")
