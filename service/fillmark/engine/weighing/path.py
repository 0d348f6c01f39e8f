"""What the valves allow."""

from __future__ import annotations

from enum import StrEnum


class Path(StrEnum):
    """What the recorded valves allow the container to do."""

    HANDLED = "handled"
    """Just mounted and never opened: hands and hoses move it, its mass is being learnt."""
    SHUT = "shut"
    OPEN = "open"
