"""Compressor cycling, read from the low pressure alone.

While the compressor runs the low side falls to the cut-out; while it rests the low side rises to the cut-in. The series
is followed as a zigzag: a turn counts once the pressure has come back from its extreme by `SWING_PA`. That depends on
neither the sampling rate nor the noise of single readings. The state is bounded: `TURNS_KEPT` turns are kept.

A valve that hunts swings too, but by less: it is not called cycling below `CYCLE_SWING_PA` between the extremes.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

SWING_PA = 30e3
"""Return from an extreme that makes a turn: several times a probe's noise. Common practice, no source."""

CYCLE_SWING_PA = 60e3
"""Least swing of a pressure switch or thermostat that cycles a compressor. Common practice, no source."""

TURNS_KEPT = 40
FORGET_S = 300.0
"""Turns older than this say nothing about the present."""


class Heading(StrEnum):
    """Where the low pressure is heading since the last turn."""

    UNKNOWN = "unknown"
    FALLING = "falling"
    RISING = "rising"


@dataclass(frozen=True, slots=True)
class Turn:
    """An extreme of the low pressure: a low one is a cut-out, a high one a cut-in."""

    time_s: float
    pressure_abs_pa: float
    cut_out: bool


@dataclass(frozen=True, slots=True)
class Rhythm:
    """Cycling as seen. None: not seen often enough to say.

    Attributes:
        cycles: whole cycles seen, cut-out to cut-out.
        rate_per_min: cycles a minute.
        duty: share of time with falling pressure, which is how long the compressor ran.
        cut_out_abs_pa: mean low extreme; `cut_in_abs_pa`: mean high extreme.
        watched_s: how long the series is.
    """

    cycles: int
    rate_per_min: float | None
    duty: float | None
    cut_out_abs_pa: float | None
    cut_in_abs_pa: float | None
    watched_s: float

    @property
    def cycling(self) -> bool:
        """Whether the compressor cycles: a whole cycle was seen."""
        return self.cycles > 0


@dataclass(frozen=True, slots=True)
class Cycling:
    """State of the watch. Readings must come in order of time; one that does not is passed over."""

    since_s: float | None = None
    time_s: float = 0.0
    heading: Heading = Heading.UNKNOWN
    lowest: tuple[float, float] = (0.0, 0.0)
    highest: tuple[float, float] = (0.0, 0.0)
    turns: tuple[Turn, ...] = ()

    def take(self, time_s: float, low_abs_pa: float) -> Cycling:
        """The state after one reading of the low pressure (absolute, Pa)."""
        here = (time_s, low_abs_pa)
        if self.since_s is None:
            return Cycling(time_s, time_s, lowest=here, highest=here)
        if time_s <= self.time_s:
            return self
        lowest = here if low_abs_pa < self.lowest[1] else self.lowest
        highest = here if low_abs_pa > self.highest[1] else self.highest
        moved = replace(self, time_s=time_s, lowest=lowest, highest=highest)
        if self.heading is not Heading.RISING and low_abs_pa - lowest[1] >= SWING_PA:
            return moved._turned(Turn(*lowest, cut_out=True), Heading.RISING, here)
        if self.heading is not Heading.FALLING and highest[1] - low_abs_pa >= SWING_PA:
            return moved._turned(Turn(*highest, cut_out=False), Heading.FALLING, here)
        return moved

    def _turned(self, turn: Turn, heading: Heading, here: tuple[float, float]) -> Cycling:
        # The first extreme is where the watch began, not a turn.
        turns = self.turns if self.heading is Heading.UNKNOWN else (*self.turns, turn)[-TURNS_KEPT:]
        if heading is Heading.RISING:
            return replace(self, heading=heading, highest=here, turns=turns)
        return replace(self, heading=heading, lowest=here, turns=turns)

    def rhythm(self) -> Rhythm:
        """What the turns of the last `FORGET_S` say."""
        turns = tuple(turn for turn in self.turns if turn.time_s >= self.time_s - FORGET_S)
        outs = tuple(turn for turn in turns if turn.cut_out)
        ins = tuple(turn for turn in turns if not turn.cut_out)
        watched = 0.0 if self.since_s is None else self.time_s - self.since_s
        swing = _mean(ins) - _mean(outs) if ins and outs else 0.0
        if len(outs) < 2 or swing < CYCLE_SWING_PA:
            return Rhythm(0, None, None, None, None, watched)
        span = outs[-1].time_s - outs[0].time_s
        rising = sum(_risen(outs[i], outs[i + 1], ins) for i in range(len(outs) - 1))
        cycles = len(outs) - 1
        return Rhythm(cycles, 60.0 * cycles / span, 1.0 - rising / span, _mean(outs), _mean(ins), watched)


def _risen(begin: Turn, end: Turn, ins: tuple[Turn, ...]) -> float:
    """Time from a cut-out to the cut-in before the next cut-out, s."""
    return next((t.time_s - begin.time_s for t in ins if begin.time_s < t.time_s < end.time_s), 0.0)


def _mean(turns: tuple[Turn, ...]) -> float:
    return sum(turn.pressure_abs_pa for turn in turns) / len(turns)
