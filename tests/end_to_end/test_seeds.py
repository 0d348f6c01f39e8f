"""Two hundred random charges in a closed loop: is the true mass where Fillmark says, and does its call land on the aim?

The truth comes from the simulator, which shares no equation with the engine. That a standard uncertainty doubled should
hold some 95 % of the truth is the meaning of k = 2 (JCGM 100:2008, section 6.3.3, from memory); 90 % are asked for
here. Charging equipment is held to 15 g (SAE J2788, from memory); a third of that is asked for.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

SEEDS = 200
CHARGES = Path(__file__).with_name("charges.py")
LIMIT_KG = 0.005


@dataclass(frozen=True)
class Charge:
    """What one run of charges.py says of a seed."""

    seed: int
    charged_kg: float
    u_kg: float
    true_kg: float
    aim_kg: float
    calls: int
    lands_and_u_kg: tuple[float, float] | None
    reaction_and_true_s: tuple[float, float] | None

    @property
    def error_kg(self) -> float:
        return self.charged_kg - self.true_kg

    @property
    def landing_kg(self) -> float:
        return self.true_kg - self.aim_kg


@pytest.fixture(scope="module")
def charges() -> list[Charge]:
    """All seeds, shared out over the processors."""
    step = os.cpu_count() or 1
    commands = [[sys.executable, str(CHARGES), str(first), str(SEEDS), str(step)] for first in range(step)]
    running = [subprocess.Popen(command, stdout=subprocess.PIPE, text=True) for command in commands]
    try:
        said = [each.communicate(timeout=280)[0] for each in running]
    finally:
        for each in running:
            each.kill()
            each.wait()
    assert [each.returncode for each in running] == [0] * step
    found = [Charge(**json.loads(line)) for text in said for line in text.splitlines()]
    assert sorted(one.seed for one in found) == list(range(SEEDS))
    return found


def quantiles(values: list[float]) -> str:
    """Quantiles of masses, in grams."""
    ordered = sorted(values)
    shares = (0.0, 0.05, 0.25, 0.5, 0.75, 0.95, 1.0)
    return ", ".join(f"{share:.0%} {ordered[round(share * (len(ordered) - 1))] * 1e3:+.1f} g" for share in shares)


def report(charges: list[Charge]) -> str:
    return (
        f"error: {quantiles([one.error_kg for one in charges])}; "
        f"u: {quantiles([one.u_kg for one in charges])}; "
        f"landing: {quantiles([one.landing_kg for one in charges])}"
    )


@pytest.mark.timeout(300)
def test_the_truth_lies_within_twice_the_uncertainty(charges: list[Charge]) -> None:
    outside = {one.seed: one for one in charges if abs(one.error_kg) > 2.0 * one.u_kg}
    assert len(outside) <= 0.1 * SEEDS, f"{sorted(outside)}; {report(charges)}"


@pytest.mark.timeout(300)
def test_the_uncertainty_is_no_excuse(charges: list[Charge]) -> None:
    far = {one.seed for one in charges if abs(one.error_kg) > LIMIT_KG}
    assert len(far) <= 0.05 * SEEDS, f"{sorted(far)}; {report(charges)}"


@pytest.mark.timeout(300)
def test_there_is_exactly_one_close_call(charges: list[Charge]) -> None:
    other = {one.seed: one.calls for one in charges if one.calls != 1}
    assert len(other) <= 0.05 * SEEDS, f"{other}; {report(charges)}"


@pytest.mark.timeout(300)
def test_the_call_lands_on_the_aim(charges: list[Charge]) -> None:
    missed = {one.seed for one in charges if abs(one.landing_kg) > LIMIT_KG}
    assert len(missed) <= 0.1 * SEEDS, f"{sorted(missed)}; {report(charges)}"


@pytest.mark.timeout(300)
def test_where_it_lands_is_foretold_within_twice_the_uncertainty(charges: list[Charge]) -> None:
    """The call's own word, when it is made, against the true mass in the end."""
    foretold = [(one, *one.lands_and_u_kg) for one in charges if one.lands_and_u_kg is not None]
    outside = {one.seed for one, lands_kg, u_kg in foretold if abs(one.true_kg - lands_kg) > 2.0 * u_kg}
    assert len(foretold) >= 0.9 * SEEDS
    assert len(outside) <= 0.1 * len(foretold), f"{sorted(outside)}; {report(charges)}"


@pytest.mark.timeout(300)
def test_the_log_tells_how_fast_the_technician_was(charges: list[Charge]) -> None:
    """Against the moment at which the simulator's valve shut. The compressor's pulse makes single ones coarse."""
    errors = [seen - true for seen, true in (one.reaction_and_true_s for one in charges if one.reaction_and_true_s)]
    assert len(errors) >= 0.8 * SEEDS
    assert abs(statistics.fmean(errors)) < 0.15, errors
    assert statistics.quantiles(map(abs, errors), n=10)[-1] < 0.8, errors
