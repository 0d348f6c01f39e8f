"""One indication of a scale, and how it becomes records of its channels."""

from __future__ import annotations

from dataclasses import dataclass

from fillmark_agent.device import Pack
from fillmark_agent.edge.channel_table import ChannelTable
from fillmark_agent.edge.edge import Edge
from fillmark_agent.edge.outcome import Fault, FaultKind, Measurement, Outcome

UNITS = ("mg", "g", "kg", "t", "oz", "lb")
"""Units in which refrigerant is weighed: gram and its multiples, avoirdupois ounce and pound. No carats, no grains."""


@dataclass(frozen=True, slots=True)
class Indication:
    """What a scale shows.

    Attributes:
        mass: the mass in the unit that it shows, or why there is none.
        stable: its own no-motion flag; None when it has none, or says nothing of it now.
    """

    mass: Outcome
    stable: bool | None = None


def fault(kind: FaultKind, text: str) -> Indication:
    """An indication that is none."""
    return Indication(Fault(kind, text))


class ScaleEdge:
    """The channels of one scale: the mass, and beside it the flag `…/stable`."""

    def __init__(self, table: ChannelTable, bay: str) -> None:
        stable = table.channel.rpartition("/")[0] + "/stable"
        self._mass = Edge(table, bay)
        self._stable = Edge(ChannelTable(channel=stable), bay)

    @property
    def channels(self) -> tuple[str, ...]:
        """Full names of the channels that it feeds."""
        return (self._mass.name, self._stable.name)

    def take(self, seen: Indication, time_s: float) -> Pack:
        """Records of what arrived at `time_s` (Unix seconds). The flag says nothing where there is no mass."""
        records = self._mass.take(seen.mass, time_s)
        if seen.stable is None or self._mass.fault is not None:
            return records
        return (*records, *self._stable.take(Measurement(seen.stable, None), time_s))
