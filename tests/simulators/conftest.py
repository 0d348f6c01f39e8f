"""Finished charges, simulated once a session."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import cache

import pytest

from fillmark_sim import Bay, Pack, scenarios

Charge = tuple[Bay, tuple[Pack, ...]]
SEED = 7


@cache
def _charge(name: str) -> Charge:
    bay = Bay(scenarios.get(name), SEED)
    return bay, tuple(bay.packs())


@pytest.fixture(scope="session")
def charge() -> Callable[[str], Charge]:
    """A demo charge, finished, by name. Nobody listens, so the technician closes by hand a little late."""
    return _charge


@pytest.fixture(scope="session")
def every_charge() -> Iterable[Charge]:
    return [_charge(name) for name in scenarios.charges()]
