"""Lines of keys in TOML texts. Syntax: TOML 1.0.0 (toml.io)."""

from __future__ import annotations

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark_agent.config_lines import Path, key_lines, line_of

TEXT = '''# comment with [table] and key = 1
title = "a # no comment"   # key = 2

[service]
"url" = 'x = y'
text = """
not.a.key = 1
[not-a-table]
\\""" still
"""
raw = \'\'\'
also = "no"\'\'\'

[[devices]]
name = "one"
limits = [
    1,
    # between
    { least = 1, most = 2 },
]
a.b."c d" = 2020-01-01T00:00:00Z

[devices.radio]
retries = 3

[[devices]]
name = "two"
radio = { retries = 4, names = ["x", "y"] }
'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("title",), 2),
        (("service",), 4),
        (("service", "url"), 5),
        (("service", "text"), 6),
        (("service", "raw"), 11),
        (("devices", 0), 14),
        (("devices", 0, "name"), 15),
        (("devices", 0, "limits"), 16),
        (("devices", 0, "limits", 0), 17),
        (("devices", 0, "limits", 1), 19),
        (("devices", 0, "limits", 1, "most"), 19),
        (("devices", 0, "a", "b", "c d"), 21),
        (("devices", 0, "radio"), 23),
        (("devices", 0, "radio", "retries"), 24),
        (("devices", 1), 26),
        (("devices", 1, "name"), 27),
        (("devices", 1, "radio", "names", 1), 28),
    ],
)
def test_every_key_has_its_line(path: Path, line: int) -> None:
    tomllib.loads(TEXT)
    assert key_lines(TEXT)[path] == line


def test_a_string_hides_what_looks_like_a_key() -> None:
    names = {part for path in key_lines(TEXT) for part in path}
    assert not names & {"not", "not-a-table", "also", "key"}


def test_a_missing_key_has_the_line_of_what_is_around_it() -> None:
    lines = key_lines(TEXT)
    assert line_of(lines, ("devices", 1, "driver")) == 26
    assert line_of(lines, ("devices", 1, "radio", "mode")) == 28
    assert line_of(lines, ("nowhere",)) is None


KEY = st.from_regex(r"[A-Za-z0-9_-]{1,6}", fullmatch=True)
VALUE = st.sampled_from(
    ["1", "-2.5e3", "true", '"a # b = c"', "'[x]'", '"""\nk = 1\n[t]\n"""', "'''\n'\n'''", "[1, [2,\n 3], # c\n]",
     "{ p = 1, q = { r = 's' } }", "1979-05-27T07:32:00Z", '"\\" = 1"']
)  # fmt: skip
FILLER = st.sampled_from(["", "# [t] k = 1", "   ", "\t# x"])


@given(st.lists(st.tuples(KEY, VALUE, FILLER), max_size=12, unique_by=lambda each: each[0]), st.integers(0, 3))
def test_any_text_made_of_known_lines_is_read_back(entries: list[tuple[str, str, str]], tables: int) -> None:
    text, expected = "", {}
    for table in range(tables + 1):
        if table:
            text += f"[[t]] # {table}\n"
        for key, value, filler in entries:
            name = f"k{key}"
            text += f"{filler}\n"
            path: Path = ("t", table - 1, name) if table else (name,)
            expected[path] = text.count("\n") + 1
            text += f"  {name} = {value}\n"
    tomllib.loads(text)
    lines = key_lines(text)
    assert {path: lines[path] for path in expected} == expected
