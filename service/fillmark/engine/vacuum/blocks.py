"""A hold in a few dozen blocks, and the covariance of their means.

* The hold is cut into BLOCKS of equal time, so that a faster sampling makes better blocks and not more of them.
* Where the gas temperature is known, pressures are brought to that of the first sample: p T0 / T. FOLLOWS_U of the
  change stays as an error, because a sensor is not the gas.
* Where it is not known, it wanders at random, to a standard deviation of `drift_u_k` at the end of the hold.
* Errors: noise (declared, or seen from one sample to the next, whichever is more); rounding that the noise does not
  dither away, with the covariance of `gauge.py` along the smoothed curve; temperature.
* While the curve stays within a step or two, the rounding hides a slope and a bend of up to one step. STAIR_U says so:
  it is the standard deviation of a triangular error of half a width of one step (GUM F.2.3.3), less with every step
  seen.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from fillmark.engine.vacuum.gauge import Gauge, stuck_share, stuck_weights, white_variance_pa2
from fillmark.engine.vacuum.series import Sample

BLOCKS = 40
FOLLOWS_U = 0.2
"""Assumed, no source; simulated gas follows its probe by 0.9 to 1.1."""

STAIR_U = 1.0 / math.sqrt(6.0)
SMOOTH_SHARE = 0.25
ROOM_K = 293.15
"""Only to turn a drift in kelvin into a share of the pressure where no temperature is known."""


@dataclass(frozen=True, slots=True)
class Blocks:
    """Means over equal times.

    Attributes:
        times_s: from the first sample.
        pressures_pa: brought to the first sample's temperature where it is known.
        counts: samples in each.
        warming_k: temperature over the first sample's; empty: unknown.
        white_pa2: variance of one sample that is independent of the next.
        thermal_share2: relative variance that the noise of the thermometer adds to one sample.
        thermal_step_share: relative standard deviation that the thermometer's own steps add to a whole block.
        stair_pa: resolution times the share of rounding that repeats itself.
    """

    times_s: tuple[float, ...]
    pressures_pa: tuple[float, ...]
    counts: tuple[int, ...]
    warming_k: tuple[float, ...]
    duration_s: float
    temperature_k: float
    white_pa2: float
    thermal_share2: float
    thermal_step_share: float
    stair_pa: float
    gauge: Gauge
    drift_u_k: float

    def drift_k2(self, i: int, j: int) -> float:
        """Covariance of the temperature that nobody knows at two blocks, K²."""
        if self.warming_k:
            return FOLLOWS_U**2 * self.warming_k[i] * self.warming_k[j]
        return self.drift_u_k**2 * min(self.times_s[i], self.times_s[j]) / self.duration_s


def blocks_of(samples: Sequence[Sample], gauge: Gauge, drift_u_k: float) -> Blocks:
    """Cut `samples` (in order of time, at least two) into blocks."""
    kelvins = [s.temperature_k for s in samples if s.temperature_k is not None]
    start, duration = samples[0].time_s, samples[-1].time_s - samples[0].time_s
    first_k = samples[0].temperature_k
    known = first_k is not None and all(s.temperature_k is not None for s in samples)
    base_k = first_k if first_k is not None else ROOM_K
    held: list[list[tuple[float, float, float]]] = [[] for _ in range(BLOCKS)]
    for s in samples:
        kelvin = s.temperature_k if known and s.temperature_k is not None else base_k
        place = min(int((s.time_s - start) / duration * BLOCKS), BLOCKS - 1)
        held[place].append((s.time_s - start, s.pressure_pa * base_k / kelvin, kelvin - base_k))
    means = [tuple(sum(column) / len(rows) for column in zip(*rows, strict=True)) for rows in held if rows]
    noise = gauge.noise_pa
    return Blocks(
        times_s=tuple(m[0] for m in means),
        pressures_pa=tuple(m[1] for m in means),
        counts=tuple(len(rows) for rows in held if rows),
        warming_k=tuple(m[2] for m in means) if known else (),
        duration_s=duration,
        temperature_k=base_k,
        white_pa2=max(
            white_variance_pa2(gauge.resolution_pa, noise), _seen_variance([s.pressure_pa for s in samples]), 1e-12
        ),
        thermal_share2=_seen_variance(kelvins) / base_k**2 if known else 0.0,
        thermal_step_share=_step(kelvins) / math.sqrt(12.0) / base_k if known else 0.0,
        stair_pa=gauge.resolution_pa * stuck_share(gauge.noise_share),
        gauge=gauge,
        drift_u_k=drift_u_k,
    )


def _seen_variance(values: Sequence[float]) -> float:
    """Variance from one sample to the next, by second differences (they pass over slope)."""
    bends = [(a - 2.0 * b + c) ** 2 for a, b, c in zip(values, values[1:], values[2:], strict=False)]
    return sum(bends) / len(bends) / 6.0 if bends else 0.0


def _step(values: Sequence[float]) -> float:
    """The step of an instrument, as its values betray it: the smallest change that is no rounding of a float."""
    changes = [abs(b - a) for a, b in pairwise(values)]
    return min((c for c in changes if c > 1e-6), default=0.0)


def covariance(
    blocks: Blocks, curve: Sequence[float], vapour_pa_k: Sequence[float] = (), smooth_share: float = 0.0
) -> list[list[float]]:
    """Covariance of the blocks' means if the pressure follows `curve`.

    Args:
        blocks: the hold.
        curve: the smoothed pressure at the blocks' times.
        vapour_pa_k: what a kelvin more in the coldest part makes of saturated vapour, Pa/K.
        smooth_share: one more error, smooth over a quarter of the hold, as a share of the rise.
    """
    shapes = [*_stairs(blocks, curve), *_passing(blocks, curve)]
    if vapour_pa_k and blocks.warming_k:
        shapes.append(tuple(a * k for a, k in zip(vapour_pa_k, blocks.warming_k, strict=True)))
    expands = [p / blocks.temperature_k for p in curve]
    if vapour_pa_k and not blocks.warming_k:
        expands = [math.hypot(a, b) for a, b in zip(expands, vapour_pa_k, strict=True)]
    size = len(curve)
    made = [
        [sum(s[i] * s[j] for s in shapes) + expands[i] * expands[j] * blocks.drift_k2(i, j) for j in range(size)]
        for i in range(size)
    ]
    for vector in _harmonics(blocks, curve):
        cosines, sines, weight = vector
        for i in range(size):
            for j in range(size):
                made[i][j] += weight * (cosines[i] * cosines[j] + sines[i] * sines[j])
    if smooth_share:
        _add_smooth(made, blocks, [smooth_share * (p - curve[0]) for p in curve])
    for i, count in enumerate(blocks.counts):
        made[i][i] += (blocks.white_pa2 + blocks.thermal_share2 * curve[i] ** 2) / count
        made[i][i] += (blocks.thermal_step_share * curve[i]) ** 2
    return made


def _add_smooth(made: list[list[float]], blocks: Blocks, size_pa: Sequence[float]) -> None:
    length = SMOOTH_SHARE * blocks.duration_s
    for i, t in enumerate(blocks.times_s):
        for j, s in enumerate(blocks.times_s):
            made[i][j] += size_pa[i] * size_pa[j] * math.exp(-0.5 * ((t - s) / length) ** 2)


def _passing(blocks: Blocks, curve: Sequence[float]) -> list[tuple[float, ...]]:
    """What comes in may follow the temperature as volume or as mass: a share of the rise like the share of warming."""
    if not blocks.warming_k:
        return []
    passed = [0.0]
    for i in range(1, len(curve)):
        passed.append(passed[-1] + (curve[i] - curve[i - 1]) * blocks.warming_k[i] / blocks.temperature_k)
    return [tuple(passed)]


def _stairs(blocks: Blocks, curve: Sequence[float]) -> list[tuple[float, ...]]:
    """A slope and a bend that hide within a step; the more steps were seen, the less."""
    steps = (max(curve) - min(curve)) / blocks.gauge.resolution_pa
    size = STAIR_U * blocks.stair_pa / (1.0 + steps)
    middle = [t / blocks.duration_s - 0.5 for t in blocks.times_s]
    return [tuple(size * x for x in middle), tuple(size * (4.0 * x * x - 1.0 / 3.0) for x in middle)]


def _harmonics(blocks: Blocks, curve: Sequence[float]) -> list[tuple[list[float], list[float], float]]:
    """Rounding along the curve. Within a block that spans whole steps it averages away."""
    r = blocks.gauge.resolution_pa
    spans = [abs(b - a) / 2.0 for a, b in zip((curve[0], *curve[:-1]), (*curve[1:], curve[-1]), strict=True)]
    found = []
    for k, weight in enumerate(stuck_weights(blocks.gauge.noise_share), start=1):
        if weight < 1e-7:
            break
        angle = 2.0 * math.pi * k / r
        left = [_sinc(angle * span / 2.0) for span in spans]
        cosines = [a * math.cos(angle * p) for a, p in zip(left, curve, strict=True)]
        sines = [a * math.sin(angle * p) for a, p in zip(left, curve, strict=True)]
        found.append((cosines, sines, weight * r * r))
    return found


def _sinc(x: float) -> float:
    return 1.0 if abs(x) < 1e-9 else math.sin(x) / x
