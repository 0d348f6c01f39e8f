"""Zero and span of a sensor against a reference: how they are found, how sure they are, how they are applied.

corrected = (raw − zero) · span. Uncertainties are standard ones (k = 1), combined by the law of propagation
(JCGM 100:2008, section 5.1.2) under the assumption that reference and sensor err independently.
"""

from __future__ import annotations

import datetime as dt
import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from pydantic import Field

from fillmark_agent.config_table import Table

LEAST_SPAN, MOST_SPAN = 0.5, 2.0
"""A sensor whose span is further off is broken or speaks another unit; correcting it would hide that."""


class CalibrationTable(Table):
    """Zero and span, found against a reference."""

    zero: float = Field(
        default=0.0, allow_inf_nan=False, description="what it shows at zero, in the channel's own unit (kg, Pa, Cel)"
    )
    span: float = Field(
        default=1.0, gt=LEAST_SPAN, lt=MOST_SPAN, description="reference over shown, a number from 0.5 to 2"
    )
    date: dt.date = Field(description="the day of the calibration, as 2026-03-14")
    uncertainty: float = Field(
        ge=0.0, allow_inf_nan=False, description="the standard uncertainty (k = 1) of a corrected value, same unit"
    )
    reference: str = Field(default="", max_length=200, description="what it was compared with")

    def corrected(self, raw: float) -> float:
        """The corrected value, in the unit of `raw`."""
        return (raw - self.zero) * self.span


class CalibrationError(ValueError):
    """These comparisons give no calibration; the text says why."""


@dataclass(frozen=True, slots=True)
class Point:
    """One comparison: what the sensor showed while the reference had a known value.

    Attributes:
        reference: known value.
        reference_u: its standard uncertainty.
        shown: readings of the sensor, same unit.
    """

    reference: float
    reference_u: float
    shown: Sequence[float]

    @property
    def mean(self) -> float:
        """Mean of the readings."""
        return statistics.fmean(self.shown)

    @property
    def u(self) -> float:
        """Standard uncertainty of shown − reference: reference, scatter of the mean, and the sensor's steps."""
        scatter = statistics.stdev(self.shown) / math.sqrt(len(self.shown)) if len(self.shown) > 1 else 0.0
        steps = {round(abs(a - b), 12) for a, b in zip(self.shown, self.shown[1:], strict=False)} - {0.0}
        step = min(steps, default=0.0)
        return math.hypot(self.reference_u, scatter, step / math.sqrt(12.0))


def calibrate(points: Sequence[Point], date: dt.date, reference: str = "") -> CalibrationTable:
    """Zero from one point, zero and span from two.

    Args:
        points: one, or two at different references.
        date: of the comparison.
        reference: what it was compared with, for people.

    Raises:
        CalibrationError: no readings, more than two points, points too close, or a span that no sound sensor has.
    """
    if not 1 <= len(points) <= 2 or not all(point.shown for point in points):
        raise CalibrationError("give one or two points, each with readings")
    if len(points) == 1:
        (only,) = points
        return CalibrationTable(
            zero=round(only.mean - only.reference, 9), date=date, uncertainty=_rounded(only.u), reference=reference
        )
    low, high = sorted(points, key=lambda point: point.reference)
    apart = high.mean - low.mean
    if not apart > 0.0 or apart <= 10.0 * (low.u + high.u):
        raise CalibrationError(
            f"the sensor shows {low.mean:g} and {high.mean:g}, too close to tell the span; "
            "take references further apart"
        )
    span = (high.reference - low.reference) / apart
    if not LEAST_SPAN < span < MOST_SPAN:
        raise CalibrationError(f"the span would be {span:.4g}; look for a wrong unit or a broken sensor")
    # Between the points a corrected value is never less sure than the less sure of the two.
    return CalibrationTable(
        zero=round(low.mean - low.reference / span, 9), span=round(span, 9), date=date,
        uncertainty=_rounded(max(low.u, high.u) * max(span, 1.0)), reference=reference,
    )  # fmt: skip


def _rounded(u: float) -> float:
    """Two significant digits, never less than it was."""
    if u == 0.0:
        return 0.0
    step = 10.0 ** (math.floor(math.log10(u)) - 1)
    return float(f"{math.ceil(u / step - 1e-9) * step:.2g}")
