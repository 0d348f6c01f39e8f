"""What a hold could have detected at all, worked out before and beside its verdict.

A rise counts as detected when the straight line's slope (ordinary least squares over the blocks) exceeds a threshold:
* more than one step of the last digit can feign, wherever in the hold it comes: 1.5 r / T, the slope of a line through a
  single step in the middle, times the share of the rounding that noise does not dither away; and
* FALSE_ALARM_SIGMA standard deviations of noise and temperature drift above that.

A leak of slope b is detected with the probability of exceeding the threshold, averaged over all positions of the
starting pressure between two digits. The **detection limit** is the slope that is detected half the time; the **sure
limit** the slope that is detected 95 times in a hundred. No randomness: the average is a sum over PHASES positions.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from fillmark.engine.vacuum.blocks import Blocks
from fillmark.engine.vacuum.gauge import expected_indication_pa

FALSE_ALARM_SIGMA = 3.0
"""One false alarm in 740 tight holds, if errors are Gaussian."""

PHASES = 16


@dataclass(frozen=True, slots=True)
class Detection:
    """Threshold, slope seen, and the limits, Pa/s."""

    slope_pa_s: float
    threshold_pa_s: float
    limit_pa_s: float
    sure_limit_pa_s: float

    @property
    def detected(self) -> bool:
        """Whether the pressure has risen."""
        return self.slope_pa_s > self.threshold_pa_s


@dataclass(frozen=True, slots=True)
class _Line:
    """Least-squares weights of the slope and the standard deviation of what they make of noise and drift."""

    weights: tuple[float, ...]
    sigma_pa_s: float
    stair_pa_s: float

    @property
    def threshold_pa_s(self) -> float:
        return self.stair_pa_s + FALSE_ALARM_SIGMA * self.sigma_pa_s


def detection(blocks: Blocks, level_pa: float) -> Detection:
    """Judge the slope of `blocks`, and what would have been seen from the level `level_pa`."""
    line = _line(blocks, level_pa)
    slope = sum(w * p for w, p in zip(line.weights, blocks.pressures_pa, strict=True))
    return Detection(
        slope,
        line.threshold_pa_s,
        _slope_detected(blocks, line, level_pa, 0.5),
        _slope_detected(blocks, line, level_pa, 0.95),
    )


def probability(blocks: Blocks, level_pa: float, slope_pa_s: float) -> float:
    """How probably a leak that raises the pressure by `slope_pa_s` is detected."""
    return _probability(blocks, _line(blocks, level_pa), level_pa, slope_pa_s)


def _line(blocks: Blocks, level_pa: float) -> _Line:
    total = sum(blocks.counts)
    middle = sum(n * t for n, t in zip(blocks.counts, blocks.times_s, strict=True)) / total
    spread = sum(n * (t - middle) ** 2 for n, t in zip(blocks.counts, blocks.times_s, strict=True))
    weights = tuple(n * (t - middle) / spread for n, t in zip(blocks.counts, blocks.times_s, strict=True))
    noise = sum(w * w * blocks.white_pa2 / n for w, n in zip(weights, blocks.counts, strict=True))
    drift = sum(w * v * blocks.drift_k2(i, j) for i, w in enumerate(weights) for j, v in enumerate(weights))
    sigma = math.sqrt(noise + max(drift, 0.0) * (level_pa / blocks.temperature_k) ** 2)
    return _Line(weights, sigma, 1.5 * blocks.stair_pa / blocks.duration_s)


def _probability(blocks: Blocks, line: _Line, level_pa: float, slope_pa_s: float) -> float:
    r, noise = blocks.gauge.resolution_pa, blocks.gauge.noise_pa
    total = 0.0
    for phase in range(PHASES):
        start = level_pa + r * (phase + 0.5) / PHASES
        shown = (expected_indication_pa(start + slope_pa_s * t, r, noise) for t in blocks.times_s)
        mean = sum(w * p for w, p in zip(line.weights, shown, strict=True))
        total += 0.5 * math.erfc((line.threshold_pa_s - mean) / (math.sqrt(2.0) * line.sigma_pa_s))
    return total / PHASES


def _slope_detected(blocks: Blocks, line: _Line, level_pa: float, wanted: float) -> float:
    low, high = 0.0, 2.0 * line.threshold_pa_s + 4.0 * blocks.gauge.resolution_pa / blocks.duration_s
    for _ in range(12):
        middle = (low + high) / 2.0
        if _probability(blocks, line, level_pa, middle) < wanted:
            low = middle
        else:
            high = middle
    return (low + high) / 2.0
