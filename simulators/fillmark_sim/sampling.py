"""Random scenarios."""

from __future__ import annotations

from dataclasses import replace

from fillmark_sim.catalogue import DEMOS
from fillmark_sim.scenario import Scenario


def sample(seed: int) -> Scenario:
    """A random honest-scale charge."""
    return replace(DEMOS[0], name=f"sample-{seed}")
