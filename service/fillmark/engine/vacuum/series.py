"""A record of pressure over time that never grows beyond a bound.

* Samples come in order of time; one that does not is refused and changes nothing.
* A sample nearer than `spacing_s` to the last kept one is passed over: its digit is as good as the next one's.
* When the record is full, every second sample goes and the spacing doubles. The first sample always stays.
* The newest sample is always at hand, kept or not. The same samples in the same order give the same record.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace

LIMIT = 600
"""Most samples kept: half an hour at one every three seconds."""


class SampleRefusedError(ValueError):
    """A sample that cannot belong to the record. The record stays as it was."""


@dataclass(frozen=True, slots=True)
class Sample:
    """One reading: time in s, absolute pressure in Pa, temperature of the gas in K (None: unknown)."""

    time_s: float
    pressure_pa: float
    temperature_k: float | None = None


@dataclass(frozen=True, slots=True)
class Series:
    """Samples kept, in order of time, and the newest one."""

    kept: tuple[Sample, ...] = ()
    newest: Sample | None = None
    spacing_s: float = 0.0
    limit: int = LIMIT

    @property
    def samples(self) -> tuple[Sample, ...]:
        """The kept samples, and the newest one behind them."""
        if self.newest is None or (self.kept and self.kept[-1] is self.newest):
            return self.kept
        return (*self.kept, self.newest)

    @property
    def duration_s(self) -> float:
        """Time between the first and the newest sample, s."""
        return 0.0 if self.newest is None else self.newest.time_s - self.kept[0].time_s

    def add(self, time_s: float, pressure_pa: float, temperature_k: float | None = None) -> Series:
        """The record with one more sample.

        Raises:
            SampleRefusedError: not a number, a negative absolute pressure, or not later than the newest sample.
        """
        if not (math.isfinite(time_s) and math.isfinite(pressure_pa)) or pressure_pa < 0.0:
            raise SampleRefusedError("a sample needs a time and an absolute pressure of zero or more, in Pa")
        if temperature_k is not None and not (math.isfinite(temperature_k) and temperature_k > 0.0):
            raise SampleRefusedError("a temperature is given in kelvin, above zero, or left out")
        if self.newest is not None and time_s <= self.newest.time_s:
            raise SampleRefusedError("samples come in order of time; this one is not later than the last")
        sample = Sample(time_s, pressure_pa, temperature_k)
        if self.kept and time_s - self.kept[-1].time_s < self.spacing_s:
            return replace(self, newest=sample)
        return replace(self, kept=(*self.kept, sample), newest=sample)._thinned()

    def _thinned(self) -> Series:
        if len(self.kept) <= self.limit:
            return self
        kept = self.kept[::2]
        mean = (kept[-1].time_s - kept[0].time_s) / (len(kept) - 1)
        # A little less than the spacing kept, so that the jitter of a clock does not skip every second sample.
        return replace(self, kept=kept, spacing_s=max(2.0 * self.spacing_s, 0.9 * mean))


def series_of(samples: Iterable[tuple[float, float, float | None]], limit: int = LIMIT) -> Series:
    """A record made of (time in s, pressure in Pa, temperature in K or None)."""
    made = Series(limit=limit)
    for time_s, pressure_pa, temperature_k in samples:
        made = made.add(time_s, pressure_pa, temperature_k)
    return made
