"""The readings of a running circuit, folded into means over the last minutes: bounded, immutable, in order of time.

Readings are gathered into slots of `SLOT_S`, so that a channel read five times a second weighs no more than one read
every two seconds, and means over `SPAN_S` are taken from the slots. Values are SI: absolute Pa, K, humidity 0 to 1.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from fillmark.engine.performance.cycle import CycleInput
from fillmark.engine.performance.cycling import Cycling

SLOT_S = 5.0
SPAN_S = 180.0
SLOTS = int(SPAN_S / SLOT_S)
SETTLED_SLOTS = 12
SETTLED_K = 2.0
SETTLED_SHARE = 0.08

CHANNELS: Mapping[str, str] = {
    "low/pressure": "low_abs_pa",
    "high/pressure": "high_abs_pa",
    "suction/temperature": "suction_k",
    "liquid/temperature": "liquid_k",
    "discharge/temperature": "discharge_k",
    "vent/temperature": "vent_k",
    "ambient/temperature": "ambient_k",
    "ambient/humidity": "humidity",
    "return/temperature": "intake_k",
    "return/humidity": "intake_humidity",
    "ambient/pressure": "barometer_pa",
}


@dataclass(frozen=True, slots=True)
class Slot:
    """Mean of `count` readings of the slot with this number."""

    number: int
    count: int
    mean: float

    def with_reading(self, value: float) -> Slot:
        """The slot with one reading more."""
        count = self.count + 1
        return Slot(self.number, count, self.mean + (value - self.mean) / count)


@dataclass(frozen=True, slots=True)
class Watch:
    """What was read since the engine was started. Begin a new one when it is started again."""

    since_s: float | None = None
    time_s: float = -math.inf
    slots: Mapping[str, tuple[Slot, ...]] = field(default_factory=dict)
    cycling: Cycling = field(default_factory=Cycling)

    def take(self, time_s: float, channel: str, value: float) -> Watch:
        """The watch after one reading. A channel that is not of `CHANNELS`, or no finite number, changes nothing."""
        if channel not in CHANNELS or not math.isfinite(value):
            return self
        since = time_s if self.since_s is None else self.since_s
        number = math.floor((time_s - since) / SLOT_S)
        kept = self.slots.get(channel, ())
        if kept and number < kept[-1].number:
            return self
        if kept and number == kept[-1].number:
            kept = (*kept[:-1], kept[-1].with_reading(value))
        else:
            kept = (*kept, Slot(number, 1, value))[-SLOTS:]
        cycling = self.cycling.take(time_s, value) if channel == "low/pressure" else self.cycling
        return replace(
            self,
            since_s=since,
            time_s=max(self.time_s, time_s),
            slots={**self.slots, channel: kept},
            cycling=cycling,
        )

    def mean(self, channel: str) -> float | None:
        """Mean over the last `SPAN_S`. None: not read in that time."""
        recent = self._recent(channel)
        return sum(slot.mean for slot in recent) / len(recent) if recent else None

    def given(self, barometer_pa: float = 101325.0) -> CycleInput:
        """The means, as input of `cycle`. `barometer_pa` stands in where the barometer is not read."""
        means = {name: self.mean(channel) for channel, name in CHANNELS.items()}
        if means["barometer_pa"] is None:
            means["barometer_pa"] = barometer_pa
        return CycleInput(**{name: value for name, value in means.items() if value is not None})

    def settled(self) -> bool:
        """Whether pressures and vent stand still over the last minutes, apart from cycling.

        The later half of the last two minutes is compared with the earlier half.
        """
        pressures = [self._drift(channel) for channel in ("low/pressure", "high/pressure")]
        vent = self._drift("vent/temperature")
        known = [one for one in pressures if one is not None]
        if not known:
            return False
        calm = all(abs(drift) <= SETTLED_SHARE * mean for drift, mean in known)
        return calm and (vent is None or abs(vent[0]) <= SETTLED_K)

    def _recent(self, channel: str) -> tuple[Slot, ...]:
        if self.since_s is None:
            return ()
        oldest = math.floor((self.time_s - self.since_s) / SLOT_S) - SLOTS
        return tuple(slot for slot in self.slots.get(channel, ()) if slot.number > oldest)

    def _drift(self, channel: str) -> tuple[float, float] | None:
        """Change between the two halves of the last slots, and their mean. None: too few."""
        recent = self._recent(channel)[-2 * SETTLED_SLOTS :]
        if len(recent) < 2 * SETTLED_SLOTS:
            return None
        early = sum(slot.mean for slot in recent[:SETTLED_SLOTS]) / SETTLED_SLOTS
        late = sum(slot.mean for slot in recent[SETTLED_SLOTS:]) / SETTLED_SLOTS
        return late - early, (late + early) / 2.0
