"""From where a standing test counts: after the last gas that was let in.

* Gas let in is a rise that stays and that neither temperature nor the gauge's noise explains. It is looked for over the
  whole record and not from one reading to the next, so that noise begins nothing anew and a slow filling is seen too.
* The record is cut into GROUPS of neighbours, each with its median. A group lies before the gas if two groups in a row
  later stand above it by more than one step of the gauge, NOISE_SIGMA standard deviations of the two groups' difference
  and THERMAL_SIGMA of temperature together.
* Temperature: where it is measured, pressures are brought to the first one (p / T), and FOLLOWS_U of the change stays
  as an error; where not, it wanders at random to `drift_u_k` over the record, so that a sudden rise is still seen.
* The noise is the median of second differences, or what the gauge declares if that is more: a filling must not count as
  noise. For Gaussian noise the median of |x| is 0.6745 standard deviations; a second difference has six variances.

A test of this project's own; the median as a robust scale is textbook (Huber, Robust Statistics, 1981, from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from fillmark.engine.vacuum.blocks import FOLLOWS_U, ROOM_K
from fillmark.engine.vacuum.gauge import Gauge
from fillmark.engine.vacuum.series import Sample

GROUPS = 120
NOISE_SIGMA = 5.0
"""Of thousands of pairs of groups none shall exceed it by chance."""

THERMAL_SIGMA = 3.0
MEDIAN_SIGMA = 0.6745
MEDIAN_LOSS = 1.25
"""A median scatters by so much more than a mean: sqrt(pi / 2)."""


@dataclass(frozen=True, slots=True)
class _Group:
    """Neighbouring samples: index of the first one after them, mean time, median pressure and temperature."""

    end: int
    time_s: float
    pressure_pa: float
    kelvin: float | None


def stands_from(samples: Sequence[Sample], gauge: Gauge, drift_u_k: float) -> int:
    """Index of the first of `samples` (absolute, in order of time) that no gas was let in after; 0: of all of them."""
    if len(samples) < 3:
        return 0
    groups = _groups(samples)
    noise_pa = _noise_pa(samples, gauge) * math.sqrt(2.0 / (len(samples) / len(groups)))
    noise_pa *= MEDIAN_LOSS if len(samples) > 2 * len(groups) else 1.0
    fixed_pa = gauge.resolution_pa + NOISE_SIGMA * noise_pa
    duration_s = max(samples[-1].time_s - samples[0].time_s, 1e-9)
    for i in range(len(groups) - 1, -1, -1):
        here = groups[i]
        for one, other in zip(groups[i + 1 :], groups[i + 2 :], strict=False):
            higher = min(one.pressure_pa, other.pressure_pa) - here.pressure_pa
            if higher > fixed_pa and higher > fixed_pa + _thermal_pa(here, one, drift_u_k, duration_s):
                return here.end
    return 0


def _groups(samples: Sequence[Sample]) -> list[_Group]:
    size = math.ceil(len(samples) / GROUPS)
    first_k = samples[0].temperature_k
    made = []
    for start in range(0, len(samples), size):
        part = samples[start : start + size]
        kelvins = [s.temperature_k for s in part if s.temperature_k is not None]
        known = first_k is not None and len(kelvins) == len(part)
        made.append(
            _Group(
                start + len(part),
                sum(s.time_s for s in part) / len(part),
                median(_brought(s, first_k if known else None) for s in part),
                median(kelvins) if known else None,
            )
        )
    return made


def _brought(sample: Sample, base_k: float | None) -> float:
    if base_k is None or sample.temperature_k is None:
        return sample.pressure_pa
    return sample.pressure_pa * base_k / sample.temperature_k


def _noise_pa(samples: Sequence[Sample], gauge: Gauge) -> float:
    values = [_brought(s, samples[0].temperature_k) for s in samples]
    bends = [abs(a - 2.0 * b + c) for a, b, c in zip(values, values[1:], values[2:], strict=False)]
    return max(gauge.reading_u_pa, median(bends) / MEDIAN_SIGMA / math.sqrt(6.0))


def _thermal_pa(here: _Group, later: _Group, drift_u_k: float, duration_s: float) -> float:
    if here.kelvin is None or later.kelvin is None:
        share = drift_u_k * math.sqrt((later.time_s - here.time_s) / duration_s) / ROOM_K
    else:
        share = FOLLOWS_U * abs(later.kelvin - here.kelvin) / here.kelvin
    return THERMAL_SIGMA * share * here.pressure_pa
