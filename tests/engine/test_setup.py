"""Aim policy and what is taken for granted."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from fillmark.engine.setup import Aim, Circuit, Scale, Setup

if TYPE_CHECKING:
    from tests.engine.conftest import ToyFluid


@pytest.mark.parametrize(("aim", "kg"), [(Aim.MIN, 0.48), (Aim.MID, 0.50), (Aim.MAX, 0.52), (0.495, 0.495)])
def test_the_aim(aim: Aim | float, kg: float, toy: ToyFluid) -> None:
    assert Circuit(toy, 0.48, 0.52).aim_kg(aim) == pytest.approx(kg)


def test_aiming_at_the_minimum_leaves_the_whole_window_as_buffer(toy: ToyFluid) -> None:
    """Common practice, no source."""
    circuit = Circuit(toy, 0.48, 0.52)
    assert circuit.charge_max_kg - circuit.aim_kg(Aim.MIN) == pytest.approx(
        circuit.charge_max_kg - circuit.charge_min_kg
    )
    assert circuit.charge_max_kg - circuit.aim_kg(Aim.MAX) == 0.0


def test_a_window_of_no_width_has_one_aim(toy: ToyFluid) -> None:
    circuit = Circuit(toy, 0.5, 0.5)
    assert {circuit.aim_kg(aim) for aim in Aim} == {0.5}


def test_given_times_go_before_usual_ones_even_when_they_are_zero(toy: ToyFluid) -> None:
    usual = Setup(Circuit(toy, 0.48, 0.52), Scale(1e-3))
    given = Setup(Circuit(toy, 0.48, 0.52), Scale(1e-3, delay_s=0.0), reaction_time_s=0.0)
    assert usual.reaction.time_s == pytest.approx(1.5)
    assert usual.scale.delay_or_default_s == 0.5
    assert (given.reaction.time_s, given.scale.delay_or_default_s) == (0.0, 0.0)
