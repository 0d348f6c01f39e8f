"""The vacuum gauge and its error: what one reading says, and what many readings say together.

* A reading is rounded to the gauge's resolution r: a rectangular error of variance r**2 / 12 (GUM, JCGM 100:2008,
  F.2.2.1), on top of Gaussian noise of standard deviation s.
* Many readings of a resting pressure repeat the same rounding: without noise they are worth one reading. With noise of
  half a digit and more they average. Averaged over an unknown position between two digits, the error that the noise
  does not dither away has, at pressures p and q, the covariance
      sum over k of r**2 / (2 pi**2 k**2) * exp(-4 pi**2 k**2 s**2 / r**2) * cos(2 pi k (p - q) / r)
  (Fourier series of the rounding error; Widrow and Kollar, Quantization Noise, 2008, chapter 5, from memory). What is
  left of r**2 / 12 + s**2 is independent from reading to reading.
* A compound gauge counts from the atmosphere: absolute = barometer - vacuum shown. A vacuum deeper than the local
  atmosphere cannot be; the reading is then refused, not clipped.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from fillmark.engine.atmosphere import Barometer

INHG_PA = 3386.389
"""One inch of mercury, conventional: NIST SP 811 (2008), appendix B.8."""

BAROMETER_U_PA = {"measured": 100.0, "declared": 300.0, "altitude": 1200.0, "sea level assumed": 4000.0}
"""Standard uncertainty of the atmosphere by its source: weather moves it by some 1 %. Common practice, no source."""

HARMONICS = 6

Kind = Literal["absolute", "compound"]


class DeeperThanAtmosphereError(ValueError):
    """A compound gauge shows more vacuum than the local atmosphere holds."""


@dataclass(frozen=True, slots=True)
class Gauge:
    """A vacuum gauge.

    Attributes:
        resolution_pa: smallest step it shows or a person can read, Pa. 1 inHg of a needle is 3386 Pa.
        kind: "absolute", or "compound": counted from the atmosphere.
        noise_share: standard deviation of its noise in steps.
        span_share_u: relative standard uncertainty of its span, as its certificate says; 0: none declared.
    """

    resolution_pa: float
    kind: Kind = "absolute"
    noise_share: float = 0.25
    span_share_u: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what is no gauge."""
        if not (math.isfinite(self.resolution_pa) and self.resolution_pa > 0.0):
            raise ValueError("a gauge's resolution is a pressure above zero; give the smallest step it shows")
        if self.noise_share < 0.0 or self.span_share_u < 0.0:
            raise ValueError("a share of noise or an uncertainty is zero or more")

    @property
    def noise_pa(self) -> float:
        """Standard deviation of the noise, Pa."""
        return self.noise_share * self.resolution_pa

    @property
    def reading_u_pa(self) -> float:
        """Standard uncertainty of one reading without its span, Pa."""
        return math.hypot(self.noise_pa, self.resolution_pa / math.sqrt(12.0))


def absolute_pa(shown_pa: float, barometer: Barometer, step_pa: float = 0.0) -> float:
    """Absolute pressure behind `shown_pa`, which a gauge counts from the atmosphere (negative below it), Pa.

    Half a step of the gauge and two standard uncertainties of the barometer are granted; within them it is zero.

    Raises:
        DeeperThanAtmosphereError: the local atmosphere does not allow that reading.
    """
    absolute = barometer.pressure_pa + shown_pa
    air_u = BAROMETER_U_PA.get(barometer.source, BAROMETER_U_PA["sea level assumed"])
    if absolute < -(step_pa / 2.0 + 2.0 * air_u):
        raise DeeperThanAtmosphereError(
            f"The gauge shows {-shown_pa / INHG_PA:.1f} inHg of vacuum, but the atmosphere here ({barometer.source}) "
            f"holds only {barometer.pressure_pa / INHG_PA:.1f} inHg. No pump can go deeper. Set the gauge's zero with "
            "its hose open, check the altitude or the barometer, or use an absolute gauge."
        )
    return max(absolute, 0.0)


def stuck_weights(noise_share: float) -> tuple[float, ...]:
    """Variances of the harmonics of the rounding error that noise does not dither away, in steps squared."""
    return tuple(
        math.exp(-4.0 * (math.pi * k * noise_share) ** 2) / (2.0 * (math.pi * k) ** 2) for k in range(1, HARMONICS + 1)
    )


def stuck_share(noise_share: float) -> float:
    """How much of the rounding repeats itself: 1 without noise, 0 with noise of half a step and more."""
    if noise_share <= 0.0:
        return 1.0
    total = sum(math.exp(-4.0 * (math.pi * k * noise_share) ** 2) / (2.0 * (math.pi * k) ** 2) for k in range(1, 200))
    return min(math.sqrt(12.0 * total), 1.0)


def white_variance_pa2(resolution_pa: float, noise_pa: float) -> float:
    """Variance of a reading that is independent from one reading to the next, Pa²."""
    stuck = stuck_share(noise_pa / resolution_pa) ** 2
    return noise_pa**2 + resolution_pa**2 / 12.0 * (1.0 - stuck)


def expected_indication_pa(
    pressure_pa: float, resolution_pa: float, noise_pa: float, *, least_pa: float = -math.inf
) -> float:
    """Mean of what a gauge shows at `pressure_pa`: rounding smoothed by noise, Pa. Never less than `least_pa`."""
    if pressure_pa - least_pa < 4.0 * noise_pa + resolution_pa:
        return _expected_at_end_pa(pressure_pa - least_pa, resolution_pa, noise_pa) + least_pa
    share = noise_pa / resolution_pa
    steps = pressure_pa / resolution_pa
    nearest = round(steps)
    if share > 0.7:
        return pressure_pa
    if share < 1e-6:
        return nearest * resolution_pa
    shown = nearest - 3.0
    for edge in range(-3, 3):
        shown += 0.5 * math.erfc(-(steps - (nearest + edge + 0.5)) / (share * math.sqrt(2.0)))
    return shown * resolution_pa


def _expected_at_end_pa(pressure_pa: float, resolution_pa: float, noise_pa: float) -> float:
    """The same where the scale ends at zero: every step is shown only as far as it is above zero."""
    edges = (resolution_pa * (step + 0.5) for step in range(int(9.0 * noise_pa / resolution_pa) + 3))
    spread = max(noise_pa, 1e-6 * resolution_pa) * math.sqrt(2.0)
    return resolution_pa * sum(0.5 * math.erfc((edge - pressure_pa) / spread) for edge in edges)
