"""What is remembered of a bay besides its jobs."""

from __future__ import annotations

from dataclasses import dataclass, field

from fillmark.wire import channels
from fillmark.wire.senml import Record


@dataclass(slots=True)
class Bay:
    """The last entry, the time of the last action, and the newest record of each other channel by its local name."""

    position: int = 0
    received_s: float = 0.0
    action_s: float = 0.0
    heard: dict[str, Record] = field(default_factory=dict)

    def hear(self, record: Record) -> None:
        """Note a record of this bay."""
        local = channels.parse(record.name).local
        if local == channels.ACTION:
            self.action_s = max(self.action_s, record.time_s)
        elif local not in self.heard or self.heard[local].time_s <= record.time_s:
            self.heard[local] = record

    def newest(self, name: str) -> dict[str, float]:
        """Time of the newest record of every channel that the bay, called `name`, ever had."""
        times = {record.name: record.time_s for record in self.heard.values()}
        return {**times, f"{name}/{channels.ACTION}": self.action_s}
