"""A table of counts, as the trials print it."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence


def counted(
    corner: str, rows: Sequence[str], columns: Sequence[str], count: Callable[[str, str], int]
) -> Iterator[str]:
    """The lines of a Markdown table whose cells are `count(row, column)`."""
    yield f"| {corner} | {' | '.join(columns)} |"
    yield "|" + "---|" * (len(columns) + 1)
    for row in rows:
        yield f"| {row} | {' | '.join(str(count(row, column)) for column in columns)} |"
