"""What is so over time: the truth, and what the technician has said of the circuit's valves."""

from __future__ import annotations

import json
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass, field

from fillmark.wire.senml import Record
from fillmark_sim.bay import Bay


@dataclass(slots=True)
class Track:
    """The true masses over time, kg."""

    times: list[float] = field(default_factory=list)
    charged: list[float] = field(default_factory=list)
    dispensed: list[float] = field(default_factory=list)

    def note(self, bay: Bay) -> None:
        """Note what is true in the bay now."""
        if not self.times or bay.time_s > self.times[-1]:
            self.times.append(bay.time_s)
            self.charged.append(bay.truth.charged_kg)
            self.dispensed.append(bay.truth.dispensed_kg)

    def charged_kg(self, time_s: float) -> float:
        """What was in the circuit at a time (Unix s)."""
        return self._at(time_s, self.charged)

    def dispensed_kg(self, time_s: float) -> float:
        """What had left the containers by then."""
        return self._at(time_s, self.dispensed)

    def _at(self, time_s: float, values: Sequence[float]) -> float:
        after = min(max(bisect_right(self.times, time_s), 1), len(self.times) - 1)
        before = after - 1
        share = (time_s - self.times[before]) / (self.times[after] - self.times[before])
        return values[before] + min(max(share, 0.0), 1.0) * (values[after] - values[before])


@dataclass(slots=True)
class Told:
    """Which ports to the circuit are open, as far as it was entered and has arrived."""

    ports: set[str] = field(default_factory=set)

    def hear(self, records: Sequence[Record]) -> None:
        """Take one pack."""
        for record in records:
            if record.text is None or not record.name.endswith("/action"):
                continue
            action = json.loads(record.text)
            if action["type"] == "valve" and action["valve"] in ("low", "high"):
                (self.ports.add if action["open"] else self.ports.discard)(action["valve"])
            elif action["type"] == "job.close":
                self.ports.clear()

    @property
    def circuit_open(self) -> bool:
        """Whether refrigerant can pass into the circuit."""
        return bool(self.ports)
