"""What one reading of the scale costs, beside a yardstick: `python tests/benchmarks/fold_cost.py`.

The yardstick is the constant-velocity Kalman filter of `tests/baselines/methods.py`, run over the same readings in the
same process. So the ratio can be compared between machines, the microseconds cannot.
"""

from __future__ import annotations

import cProfile
import io
import pstats
import sys
import time
from collections.abc import Callable
from pathlib import Path

from fillmark.engine import events as ev
from fillmark.engine.course import Course
from fillmark.engine.events import Reading
from fillmark.engine.fold import fold
from fillmark.engine.setup import Aim, Circuit, Hose, Limits, Scale, Setup
from fillmark.refrigerants import facade
from fillmark_sim.campaign import load_methods

METHODS = Path(__file__).parents[1] / "baselines" / "methods.py"
BEGIN_S = 1_790_000_000.0
READINGS = 5000
ROUNDS = 7
HZ = 10.0
TARGET_US = 50.0


def opened() -> Course:
    """A course with a container on the pan, at rest, its valve and the circuit's open."""
    setup = Setup(
        circuit=Circuit(facade.get("R-134a"), 0.48, 0.52, None), scale=Scale(1e-3, "III", None, 0.5), aim=Aim.MID,
        hose=Hose(1.8, 4.8e-3), limits=Limits(), reaction_time_s=1.5,
    )  # fmt: skip
    course = fold(Course.begun(setup, BEGIN_S), ev.BeginStep(BEGIN_S, "charging", "a benchmark"))
    course = fold(course, ev.MountContainer(BEGIN_S, "C1", "vapour"))
    for number in range(80):
        course = fold(course, Reading(BEGIN_S + number / HZ, "scale/mass", 15.0))
    course = fold(course, ev.SetValve(BEGIN_S + 8.0, "container", True))
    return fold(course, ev.SetValve(BEGIN_S + 8.0, "low", True))


def readings() -> list[tuple[float, float]]:
    """A steady draw of 2 g/s on a scale of 1 g."""
    return [(BEGIN_S + 8.0 + n / HZ, round(15.0 - 0.002 * n / HZ, 3)) for n in range(1, READINGS + 1)]


def fold_all(series: list[tuple[float, float]]) -> None:
    """Fold every reading into one course."""
    course = opened()
    for time_s, value in series:
        course = fold(course, Reading(time_s, "scale/mass", value))


def filter_all(series: list[tuple[float, float]]) -> None:
    """Feed every reading to the yardstick."""
    method = load_methods(str(METHODS))["constant velocity"](1e-3)
    method.valve("container", is_open=True)
    for time_s, value in series:
        method.scale(time_s, value)


def best_us(run: Callable[[list[tuple[float, float]]], None], series: list[tuple[float, float]]) -> float:
    """The least time of several rounds, in microseconds a reading."""
    times = []
    for _ in range(ROUNDS):
        begun = time.perf_counter()
        run(series)
        times.append(time.perf_counter() - begun)
    return min(times) / len(series) * 1e6


def main() -> int:
    """Print both costs and their ratio; with --profile, where the time goes. Status 1 above the target."""
    series = readings()
    ours, yardstick = best_us(fold_all, series), best_us(filter_all, series)
    sys.stdout.write(
        f"fold: {ours:.1f} µs a reading; yardstick: {yardstick:.2f} µs; ratio {ours / yardstick:.1f}; "
        f"target below {TARGET_US:.0f} µs\n"
    )
    if "--profile" in sys.argv[1:]:
        profile, text = cProfile.Profile(), io.StringIO()
        profile.runcall(fold_all, series)
        pstats.Stats(profile, stream=text).sort_stats("tottime").print_stats(14)
        sys.stdout.write(text.getvalue())
    return 0 if ours < TARGET_US else 1


if __name__ == "__main__":
    raise SystemExit(main())
