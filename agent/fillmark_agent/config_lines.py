"""Finds the line of every key in a TOML text, which the standard library's reader does not tell.

It walks text that the reader has already accepted, so it only has to know where things begin and end: comments,
strings of four kinds, arrays, inline tables, dotted keys, tables and arrays of tables (TOML 1.0.0).
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field

Path = tuple[str | int, ...]

_KEY = re.compile(r'[ \t]*(?:"((?:[^"\\\n]|\\.)*)"|\'([^\'\n]*)\'|([A-Za-z0-9_-]+))[ \t]*')
_BLANK = re.compile(r"(?:[ \t\r\n,]|#[^\n]*)*")
_STRING = re.compile(
    r'"""(?:[^"\\]|\\.|"(?!""))*"{3,5}|\'\'\'(?:[^\']|\'(?!\'\'))*\'{3,5}|"(?:[^"\\\n]|\\.)*"|\'[^\'\n]*\'', re.DOTALL
)
_BARE = re.compile(r"[^,\]}#\n]*")


def key_lines(text: str) -> Mapping[Path, int]:
    """Line numbers, from 1, of the keys, tables and array elements of a valid TOML text."""
    scan = _Scan(text)
    scan.document()
    return scan.lines


def line_of(lines: Mapping[Path, int], path: Path) -> int | None:
    """The line of `path`, or of the closest thing around it that is written in the text."""
    for length in range(len(path), 0, -1):
        if (line := lines.get(path[:length])) is not None:
            return line
    return None


@dataclass(slots=True)
class _Scan:
    text: str
    at: int = 0
    lines: dict[Path, int] = field(default_factory=dict)
    tables: dict[Path, int] = field(default_factory=dict)

    def document(self) -> None:
        here: Path = ()
        self._skip()
        while self.at < len(self.text):
            if self.text[self.at] == "[":
                here = self._header()
            else:
                self._pair(here)
            self._skip()

    def _skip(self) -> None:
        self._match(_BLANK)

    def _match(self, pattern: re.Pattern[str]) -> re.Match[str]:
        found = pattern.match(self.text, self.at)
        if found is None:
            raise ValueError(f"line {self._line()}: this is no TOML")
        self.at = found.end()
        return found

    def _line(self) -> int:
        return self.text.count("\n", 0, self.at) + 1

    def _note(self, path: Path, line: int) -> None:
        for length in range(1, len(path) + 1):
            self.lines.setdefault(path[:length], line)

    def _keys(self) -> list[str]:
        keys = []
        while True:
            quoted, literal, bare = self._match(_KEY).groups()
            keys.append(bare or literal or (_unescaped(quoted) if quoted is not None else ""))
            if self.text[self.at] != ".":
                return keys
            self.at += 1

    def _header(self) -> Path:
        line, many = self._line(), self.text.startswith("[[", self.at)
        self.at += 2 if many else 1
        keys = self._keys()
        self.at += 2 if many else 1
        path = self._within((), keys[:-1])
        path = (*path, keys[-1])
        if many:
            self.tables[path] = self.tables.get(path, -1) + 1
        path = self._element(path)
        self._note(path, line)
        return path

    def _within(self, base: Path, keys: list[str]) -> Path:
        for key in keys:
            base = self._element((*base, key))
        return base

    def _element(self, path: Path) -> Path:
        """A table's path; of an array of tables, the path of the element that is being written."""
        return (*path, self.tables[path]) if path in self.tables else path

    def _pair(self, base: Path) -> None:
        line = self._line()
        path = (*base, *self._keys())
        self._note(path, line)
        self.at += 1
        self._value(path)

    def _value(self, path: Path) -> None:
        self._skip()
        self.lines.setdefault(path, self._line())
        first = self.text[self.at]
        if first == "[":
            self._items(path)
        elif first == "{":
            self._inline(path)
        elif first in "\"'":
            self._match(_STRING)
        else:
            self._match(_BARE)

    def _items(self, path: Path) -> None:
        self.at += 1
        self._skip()
        index = 0
        while self.text[self.at] != "]":
            self._value((*path, index))
            self._skip()
            index += 1
        self.at += 1

    def _inline(self, path: Path) -> None:
        self.at += 1
        self._skip()
        while self.text[self.at] != "}":
            self._pair(path)
            self._skip()
        self.at += 1


def _unescaped(quoted: str) -> str:
    try:
        return str(json.loads(f'"{quoted}"'))
    except ValueError:
        return quoted
