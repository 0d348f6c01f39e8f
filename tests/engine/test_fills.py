"""What the moment at which the circuit is opened adds to the uncertainty of the charge."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.engine.conftest import MakeBench

STEP = 5e-3
FLOOR = STEP * STEP / 12.0


def _start_and_hose_u(make: MakeBench, *, flickers: bool) -> tuple[float, float]:
    """Variance of the container's first weighing, kg², and the hose's term, kg, on a scale of 5 g."""
    bench = make(hz=5.0, resolution=STEP).open_job()
    bench.begin()
    bench.mount(gross=1.0)
    for n in range(60):
        bench.extra_kg = 0.7 * STEP if flickers and n % 2 == 0 else 0.0
        bench.run(0.2)
    bench.extra_kg = 0.0
    bench.valve("container", is_open=True)
    bench.run(6.0)
    bench.valve("low", is_open=True)
    bench.run(30.0, flow=2e-3)
    bench.valve("low", is_open=False)
    bench.valve("container", is_open=False)
    bench.run(10.0)
    hose = next(term for term in bench.job.picture.budget if term.name == "hose")
    return bench.job.course.containers["C1"].start_var, hose.u_kg


def test_where_the_hose_is_reckoned_the_charge_begins_with_what_the_scale_shows_then(make_bench: MakeBench) -> None:
    """JCGM 100 section 5.2, worked in `fills._new_kg`: with w = 0 the charge is z_now - z_end + M.

    A first weighing that knows better than z_now, for its digit flickers, does not help: the hose's term has the rest.
    """
    stood_var, stood_u = _start_and_hose_u(make_bench, flickers=False)
    flickered_var, flickered_u = _start_and_hose_u(make_bench, flickers=True)
    assert stood_var == pytest.approx(FLOOR, rel=0.01)
    assert flickered_var < 0.5 * FLOOR
    assert math.sqrt(flickered_u**2 + flickered_var) >= 0.95 * math.sqrt(stood_u**2 + stood_var)
