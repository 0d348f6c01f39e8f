"""Bytes from a serial line or a socket, cut into lines. A line ends with CR, LF or both.

* What comes before the first end of a line is dropped: a line that lost its beginning can look like a smaller mass.
* A line that is too long is told once and dropped to its end.
"""

from __future__ import annotations

from collections.abc import Iterator

from fillmark_agent.edge.outcome import Fault, FaultKind

LONGEST = 200
_FRAMING = "\x00\x02\x03 \t"


class LineCutter:
    """Takes bytes as they arrive and gives whole lines, without the marks STX and ETX around them."""

    def __init__(self) -> None:
        self._kept = bytearray()
        self._skipping = True

    def feed(self, data: bytes) -> Iterator[str | Fault]:
        """Lines that end within `data`."""
        for part in data.replace(b"\r", b"\n").splitlines(keepends=True):
            ended = part.endswith(b"\n")
            self._kept += part.rstrip(b"\n")
            if len(self._kept) > LONGEST:
                if not self._skipping:
                    yield Fault(FaultKind.OVERSIZED, f"a line of more than {LONGEST} characters")
                self._kept.clear()
                self._skipping = True
            if ended:
                yield from self._line()

    def _line(self) -> Iterator[str | Fault]:
        line, self._kept = bytes(self._kept), bytearray()
        skipped, self._skipping = self._skipping, False
        text = line.decode("latin-1").strip(_FRAMING)
        if text and not skipped:
            yield (
                text
                if text.isascii() and text.isprintable()
                else Fault(FaultKind.UNREADABLE, f"the line {text[:40]!r}")
            )
