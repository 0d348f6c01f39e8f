"""The charge's own budget against the propagation of distributions (JCGM 101:2008), and what air's buoyancy does to it.

A scripted charge is folded many times, each time with other errors of the scale, drawn from what the budget says of
them. The spread of what the engine then says, less what is true, must be the uncertainty that the engine states.
"""

from __future__ import annotations

import math
import random
from typing import TYPE_CHECKING

import pytest

from fillmark.engine import events as ev
from fillmark.engine.budget import SHELTERED_STEPS_PER_H, TUG_U_KG, combined_u_kg, permissible_error_kg
from fillmark.engine.course import Course
from fillmark.engine.events import Fact, Reading
from fillmark.engine.fills import ENTERED_LATE_S
from fillmark.engine.fold import fold
from fillmark.engine.picture import picture
from fillmark.engine.setup import Aim, Circuit, Hose, Limits, Scale, Setup
from fillmark.refrigerants import facade

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from tests.metrology.conftest import MonteCarlo

BEGIN_S = 1_790_000_000.0
HZ = 1.0
FLOW_KG_S = 4e-3
FILLS_S = 75.0
CHARGED_KG = FLOW_KG_S * FILLS_S
HOSE_KG = 0.9e-3
"""Saturated vapour of R-134a at 20 °C, 27.8 kg/m³, in the hose's 33 ml: the most vapour that it can hold."""

AIR_KG_M3, WEIGHTS_KG_M3 = 1.2, 8000.0
TRIALS = 500


def setup(step_kg: float) -> Setup:
    return Setup(
        circuit=Circuit(facade.get("R-134a"), 0.28, 0.32, None), aim=Aim.MID,
        scale=Scale(step_kg, "III", None, 0.0, sheltered=True),
        hose=Hose(1.8, 4.8e-3), limits=Limits(), reaction_time_s=1.5,
    )  # fmt: skip


def script(step_kg: float, inputs: Sequence[float]) -> Iterator[Reading | Fact]:
    """A container is mounted and fills the hose; the circuit is opened for FILLS_S, and shut.

    Inputs: where the load lies within a step, drift in kg/h, error of the scale over the mass drawn in kg, what the
    hose holds in kg, by what it lifts the container once it is under pressure in kg, how late the shut valve is entered
    in s, and a seed of the indication's unrest.
    """
    within, drift, span, in_hose, tug, late_s, seed = inputs
    luck = random.Random(seed)
    yield ev.BeginStep(BEGIN_S, "charging", "a script")
    yield ev.MountContainer(BEGIN_S + 0.5, "C1", "vapour")
    opened, ended = 12.0, 12.0 + FILLS_S
    for number in range(2, round((ended + 10.0) * HZ)):
        since = number / HZ
        if since == 6.0:
            yield ev.SetValve(BEGIN_S + since - 0.01, "container", True)
        if since == opened:
            yield ev.SetValve(BEGIN_S + since - 0.01, "low", True)
        filled = min(max(since - 6.0, 0.0), 1.0)
        drawn = FLOW_KG_S * min(max(since - opened, 0.0), FILLS_S) + in_hose * filled
        load = 1.5 + within - drawn - tug * filled + drift * since / 3600.0 - span * drawn / CHARGED_KG
        shown = round((load + luck.gauss(0.0, 0.2 * step_kg)) / step_kg) * step_kg
        yield Reading(BEGIN_S + since, "scale/mass", shown)
        if since == ended:
            yield ev.SetValve(BEGIN_S + since + late_s, "low", False)


def charged(step_kg: float, inputs: Sequence[float]) -> tuple[float, float]:
    """What the engine says is in, and its standard uncertainty, kg. The hose holds the same at the end as before."""
    course = Course.begun(setup(step_kg), BEGIN_S)
    for event in script(step_kg, inputs):
        course = fold(course, event)
    shown = picture(course, course.time_s)
    assert combined_u_kg(shown.budget) == shown.charged.u_kg
    return shown.charged.mass_kg, shown.charged.u_kg


@pytest.mark.parametrize("step_kg", [1e-3, 5e-3])
def test_the_stated_uncertainty_is_the_spread_of_the_distribution(monte_carlo: MonteCarlo, step_kg: float) -> None:
    stated: list[float] = []

    def error_kg(inputs: Sequence[float]) -> float:
        mass, u = charged(step_kg, inputs)
        stated.append(u)
        return mass - CHARGED_KG

    most = permissible_error_kg("III", step_kg, CHARGED_KG)
    most_drift = SHELTERED_STEPS_PER_H * step_kg
    found = monte_carlo(
        error_kg,
        (
            lambda luck: luck.uniform(0.0, step_kg),
            lambda luck: luck.uniform(-most_drift, most_drift),
            lambda luck: luck.gauss(0.0, most / 3.0),
            lambda luck: luck.uniform(0.0, HOSE_KG),
            lambda luck: luck.uniform(-math.sqrt(3.0), math.sqrt(3.0)) * TUG_U_KG,
            lambda luck: luck.uniform(0.0, 2.0 * ENTERED_LATE_S),
            lambda luck: luck.random(),
        ),
        TRIALS,
    )
    u = sum(stated) / len(stated)
    # Who enters the valve later than most is found out by the settled scale, who enters it sooner is not.
    assert found.mean == pytest.approx(0.0, abs=0.15 * step_kg)
    # The filter's share of the indication is cautious: a flow averages the steps that a scale at rest repeats, and this
    # one is read seldom and says nothing of motion, so that hands are reckoned with that are not there.
    assert 0.55 * u <= found.u <= 1.05 * u
    assert sum(abs(one) <= 2.0 * u for one in found.values) >= 0.93 * TRIALS


def test_the_buoyancy_of_air_is_negligible() -> None:
    """The container keeps its volume, so only the balance's own weights are buoyed: 1 - 1.2/8000 of the difference.

    JCGM 101 section 9.3 and OIML R 111-1: conventional mass in air of 1.2 kg/m³ by weights of 8000 kg/m³.
    """
    buoyed_kg = 0.5 * AIR_KG_M3 / WEIGHTS_KG_M3
    assert buoyed_kg == pytest.approx(0.075e-3)
    _, u = charged(1e-3, (0.0, 0.0, 0.0, HOSE_KG / 2.0, 0.0, ENTERED_LATE_S, 1.0))
    assert (buoyed_kg**2 + u**2) ** 0.5 < 1.01 * u
