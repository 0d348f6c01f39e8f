"""How long it takes from the close call until the valve is shut: declared, learnt from earlier closings, or assumed.

Reaction times are skewed to the long side and never negative, so their logarithm is taken for normal, with a mean and
a scatter that belong to the person. Both are unknown; the prior is the normal-inverse-χ² one, conjugate to it, and the
next time follows Student's t (Gelman et al., Bayesian Data Analysis, 3rd edition, section 3.3, from memory):

    κ = κ0 + n,  ν = ν0 + n,  m = (κ0 m0 + n x̄) / κ
    ν s² = ν0 s0² + Σ(x - x̄)² + κ0 n / κ (x̄ - m0)²,    v = s² (1 + 1/κ)                                      (1)

So the usual time weighs in as half a closing, and the usual scatter as four. Shown are mean and standard deviation of
the log-normal with m and v, and ν for degrees of freedom.

A time that stands far from the person's others is left out (median ± 3 scaled median deviations; Davies and Gather
1993, Hampel's identifier, from memory), and so is one that is no reaction at all: he was ahead of the call, or away.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, median
from typing import Literal

USUAL_S = 1.5
"""Hearing the call and turning the valve: an unexpected signal takes 1.25 s to 1.5 s (Green 2000, Transportation Human
Factors 2(3), 195-216, for drivers who brake)."""

SCATTER = 0.25
"""Standard deviation of the logarithm of one person's times. Judged."""

PRIOR_WEIGHT = 0.5
PRIOR_DOF = 4.0
"""κ0 and ν0. The standard deviation over all people is then 0.43 in the logarithm, as of unalerted drivers who brake,
1.31 s ± 0.61 s (Taoka 1989, ITE Journal 59(3), 19-21, from memory)."""

LEAST_S = 0.1
"""Nobody follows a signal sooner: World Athletics calls it a false start (Technical Rules, rule 16.6, from memory)."""

MOST_S = 20.0
"""Who takes longer was away or did not hear it. Common practice, no source."""

MOST_CLOSINGS = 30
"""So many of the latest count: people change."""

FAR = 3.0
MEDIAN_DEVIATIONS = 1.4826
"""The standard deviation of a normal distribution, in median absolute deviations."""

Source = Literal["declared", "learnt", "assumed"]


@dataclass(frozen=True, slots=True)
class Reaction:
    """A reaction time that is to be expected.

    Attributes:
        time_s: its mean, s, from the call to the valve being shut.
        u_s: standard uncertainty of the next one, s.
        dof: degrees of freedom of that.
        closings: from so many it was learnt.
    """

    time_s: float
    u_s: float
    dof: float
    closings: int = 0
    source: Source = "learnt"

    @classmethod
    def declared(cls, time_s: float) -> Reaction:
        """A time that somebody has declared; it scatters as a person's times do."""
        return cls(time_s, SCATTER * time_s, PRIOR_DOF, source="declared")

    @classmethod
    def known(cls, time_s: float, u_s: float, closings: int) -> Reaction:
        """One that was learnt earlier, as it stands in the opening of the job."""
        return cls(time_s, u_s, PRIOR_DOF + closings, closings)

    @property
    def is_learnt(self) -> bool:
        """Whether it comes from closings of the technician."""
        return self.source == "learnt"

    def sentence(self) -> str:
        """What it is and where it comes from, in one line."""
        match self.source:
            case "declared":
                said = "as declared"
            case "assumed":
                said = "assumed: no closing of this technician is known"
            case "learnt":
                said = f"from {self.closings} closing{'s' if self.closings != 1 else ''}"
        return f"Reaction {self.time_s:.1f} s, {said}."


def learnt(times_s: Sequence[float]) -> Reaction:
    """What earlier closings of one technician say of the next, by (1).

    Args:
        times_s: from the call to the valve being shut, s, the oldest first. Absurd ones are left out.
    """
    logs = _usable(times_s)
    count = len(logs)
    mean = fmean(logs) if logs else 0.0
    weight, dof = PRIOR_WEIGHT + count, PRIOR_DOF + count
    centre = (PRIOR_WEIGHT * _PRIOR_MEAN + count * mean) / weight
    squares = PRIOR_DOF * SCATTER**2 + sum((one - mean) ** 2 for one in logs)
    squares += PRIOR_WEIGHT * count / weight * (mean - _PRIOR_MEAN) ** 2
    var = squares / dof * (1.0 + 1.0 / weight)
    time_s = math.exp(centre + var / 2.0)
    return Reaction(time_s, time_s * math.sqrt(math.expm1(var)), dof, count, "learnt" if count else "assumed")


def _usable(times_s: Sequence[float]) -> list[float]:
    """Logarithms of the times that count."""
    logs = [math.log(time_s) for time_s in times_s if LEAST_S <= time_s <= MOST_S][-MOST_CLOSINGS:]
    if not logs:
        return logs
    middle = median(logs)
    spread = max(MEDIAN_DEVIATIONS * median(abs(one - middle) for one in logs), SCATTER)
    return [one for one in logs if abs(one - middle) <= FAR * spread]


_PRIOR_MEAN = math.log(USUAL_S) - SCATTER**2 * (1.0 + 1.0 / PRIOR_WEIGHT) / 2.0
"""m0, so that nothing learnt means USUAL_S."""

UNKNOWN = learnt(())
"""The reaction of somebody of whom no closing is known."""
