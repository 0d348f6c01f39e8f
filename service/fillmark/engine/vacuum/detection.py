"""What a hold could have detected at all, worked out before and beside its verdict.

A rise counts as detected when the straight line's slope (ordinary least squares over the blocks) exceeds a threshold:
* more than one step of the last digit can feign, wherever in the hold it comes: 1.5 r / T, the slope of a line
  through a single step in the middle, times the share of the rounding that noise does not dither away; and
* FALSE_ALARM_SIGMA standard deviations of noise and temperature drift above that.

A leak of slope b is detected with the probability of exceeding the threshold, averaged over all positions of the
starting pressure between two digits. The **detection limit** is the slope that is detected half the time; the **sure
limit** the slope that is detected 95 times in a hundred. No randomness: the average is a sum over PHASES positions.

A gauge that stands at zero hides part of a rise: it cannot show less, and its zero may lie ZERO_STEPS too low. Then the
average is over the starting pressures that agree with what it showed in the first third.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fillmark.engine.vacuum.blocks import BLOCKS, ROOM_K, Blocks
from fillmark.engine.vacuum.gauge import Gauge, expected_indication_pa, stuck_share, white_variance_pa2

FALSE_ALARM_SIGMA = 3.0
"""One false alarm in 740 tight holds, if errors are Gaussian."""

PHASES = 16
SURE = 0.95
ZERO_STEPS = 1.0
"""Assumed, no source; simulated gauges have a zero that is off by up to as much."""

LONGEST_HOLD_S = 48.0 * 3600.0


@dataclass(frozen=True, slots=True)
class Detection:
    """Slope seen, its standard deviation without rounding, the threshold, and the limits, Pa/s."""

    slope_pa_s: float
    sigma_pa_s: float
    threshold_pa_s: float
    limit_pa_s: float
    sure_limit_pa_s: float

    @property
    def detected(self) -> bool:
        """Whether the pressure has risen."""
        return self.slope_pa_s > self.threshold_pa_s


@dataclass(frozen=True, slots=True)
class _Line:
    """The slope's weights, the standard deviation of noise and drift in it, and where the pressure may have begun."""

    weights: tuple[float, ...]
    sigma_pa_s: float
    stair_pa_s: float
    starts_pa: tuple[float, ...]
    least_pa: float

    @property
    def threshold_pa_s(self) -> float:
        return self.stair_pa_s + FALSE_ALARM_SIGMA * self.sigma_pa_s


def detection(blocks: Blocks, level_pa: float, *, at_zero: bool = False) -> Detection:
    """Judge the slope of `blocks`, and what would have been seen from the level `level_pa`."""
    line = _line(blocks, level_pa, at_zero=at_zero)
    slope = sum(w * p for w, p in zip(line.weights, blocks.pressures_pa, strict=True))
    return Detection(
        slope,
        line.sigma_pa_s,
        line.threshold_pa_s,
        _slope_detected(blocks, line, 0.5),
        _slope_detected(blocks, line, SURE),
    )


def probability(blocks: Blocks, level_pa: float, slope_pa_s: float) -> float:
    """How probably a leak that raises the pressure by `slope_pa_s` is detected."""
    return _probability(blocks, _line(blocks, level_pa), slope_pa_s)


def expected(gauge: Gauge, duration_s: float, interval_s: float, level_pa: float, drift_u_k: float) -> Detection:
    """What a hold will be able to detect: limits for a still circuit, its temperature known or not to `drift_u_k`."""
    return detection(_planned(gauge, duration_s, interval_s, level_pa, drift_u_k), level_pa)


def _planned(gauge: Gauge, duration_s: float, interval_s: float, level_pa: float, drift_u_k: float) -> Blocks:
    per_block = duration_s / interval_s / BLOCKS
    return Blocks(
        times_s=tuple(duration_s * (i + 0.5) / BLOCKS for i in range(BLOCKS)),
        pressures_pa=(level_pa,) * BLOCKS,
        counts=(max(round(per_block), 1),) * BLOCKS,
        warming_k=(),
        duration_s=duration_s,
        temperature_k=ROOM_K,
        white_pa2=max(white_variance_pa2(gauge.resolution_pa, gauge.noise_pa), 1e-12),
        thermal_share2=0.0,
        thermal_step_share=0.0,
        stair_pa=gauge.resolution_pa * stuck_share(gauge.noise_share),
        gauge=gauge,
        drift_u_k=drift_u_k,
    )


def hold_needed_s(
    gauge: Gauge, wanted_pa_s: float, *, interval_s: float, level_pa: float, drift_u_k: float
) -> float | None:
    """How long to hold so that a rise of `wanted_pa_s` is surely (95 %) detected, s. None: longer than two days."""

    def enough(duration_s: float) -> bool:
        return probability(_planned(gauge, duration_s, interval_s, level_pa, drift_u_k), level_pa, wanted_pa_s) >= SURE

    low, high = 60.0, LONGEST_HOLD_S
    if not enough(high):
        return None
    while high > 1.05 * low:
        middle = math.sqrt(low * high)
        if not enough(middle):
            low = middle
        else:
            high = middle
    return high


def _line(blocks: Blocks, level_pa: float, *, at_zero: bool = False) -> _Line:
    total = sum(blocks.counts)
    middle = sum(n * t for n, t in zip(blocks.counts, blocks.times_s, strict=True)) / total
    spread = sum(n * (t - middle) ** 2 for n, t in zip(blocks.counts, blocks.times_s, strict=True))
    weights = tuple(n * (t - middle) / spread for n, t in zip(blocks.counts, blocks.times_s, strict=True))
    single = blocks.white_pa2 + blocks.thermal_share2 * level_pa**2
    whole = (blocks.thermal_step_share * level_pa) ** 2
    noise = sum(w * w * (single / n + whole) for w, n in zip(weights, blocks.counts, strict=True))
    drift = sum(w * v * blocks.drift_k2(i, j) for i, w in enumerate(weights) for j, v in enumerate(weights))
    sigma = math.sqrt(noise + max(drift, 0.0) * (level_pa / blocks.temperature_k) ** 2)
    r = blocks.gauge.resolution_pa
    starts = _hidden(blocks) if at_zero else tuple(level_pa + r * (i + 0.5) / PHASES for i in range(PHASES))
    return _Line(weights, sigma, 1.5 * blocks.stair_pa / blocks.duration_s, starts, 0.0 if at_zero else -math.inf)


def _hidden(blocks: Blocks) -> tuple[float, ...]:
    """Pressures below and about zero, as the gauge counts, that it would show as it did in the first third."""
    r, noise = blocks.gauge.resolution_pa, blocks.gauge.noise_pa
    third = max(len(blocks.counts) // 3, 1)
    seen = sum(blocks.pressures_pa[:third]) / third
    slack = 2.0 * math.sqrt(blocks.white_pa2 / sum(blocks.counts[:third])) + 0.02 * r
    tried = [r * (i / PHASES - ZERO_STEPS) for i in range(int(PHASES * (ZERO_STEPS + 1.5)))]
    misses = [abs(expected_indication_pa(p, r, noise, least_pa=0.0) - seen) for p in tried]
    found = tuple(p for p, miss in zip(tried, misses, strict=True) if miss <= slack)
    return found or (tried[misses.index(min(misses))],)


def _probability(blocks: Blocks, line: _Line, slope_pa_s: float) -> float:
    r, noise = blocks.gauge.resolution_pa, blocks.gauge.noise_pa
    total = 0.0
    for start in line.starts_pa:
        pressures = (start + slope_pa_s * t for t in blocks.times_s)
        shown = (expected_indication_pa(p, r, noise, least_pa=line.least_pa) for p in pressures)
        mean = sum(w * p for w, p in zip(line.weights, shown, strict=True))
        total += 0.5 * math.erfc((line.threshold_pa_s - mean) / (math.sqrt(2.0) * line.sigma_pa_s))
    return total / len(line.starts_pa)


def _slope_detected(blocks: Blocks, line: _Line, wanted: float) -> float:
    low, high = 0.0, 2.0 * line.threshold_pa_s + 4.0 * blocks.gauge.resolution_pa / blocks.duration_s
    for _ in range(12):
        middle = (low + high) / 2.0
        if _probability(blocks, line, middle) < wanted:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0
