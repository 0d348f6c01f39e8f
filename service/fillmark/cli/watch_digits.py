"""Digits five rows high, for a number that is read across the shop."""

from __future__ import annotations

_ROWS = {
    "0": ("█████", "█   █", "█   █", "█   █", "█████"),
    "1": ("  ██ ", "   █ ", "   █ ", "   █ ", "  ███"),
    "2": ("█████", "    █", "█████", "█    ", "█████"),
    "3": ("█████", "    █", " ████", "    █", "█████"),
    "4": ("█   █", "█   █", "█████", "    █", "    █"),
    "5": ("█████", "█    ", "█████", "    █", "█████"),
    "6": ("█████", "█    ", "█████", "█   █", "█████"),
    "7": ("█████", "    █", "   █ ", "  █  ", "  █  "),
    "8": ("█████", "█   █", "█████", "█   █", "█████"),
    "9": ("█████", "█   █", "█████", "    █", "█████"),
    "-": ("     ", "     ", "█████", "     ", "     "),
    ".": ("  ", "  ", "  ", "  ", "█ "),
    " ": ("   ", "   ", "   ", "   ", "   "),
}
HEIGHT = 5


def large(text: str) -> list[str]:
    """The rows of a number; a sign that has no large form is left out."""
    known = [_ROWS[sign] for sign in text if sign in _ROWS]
    return ["  ".join(rows[row] for rows in known) for row in range(HEIGHT)]
