"""What the moments at which the circuit is opened and the hose emptied add to the uncertainty of the charge."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest

from fillmark.engine.account import STILL_PULLS
from fillmark.engine.budget import TUG_U_KG

if TYPE_CHECKING:
    from tests.engine.conftest import Bench, MakeBench

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


def _tug_kg(bench: Bench) -> float:
    return next(term.u_kg for term in bench.job.picture.budget if term.name == "tug")


def test_the_pull_counts_with_liquid_once_the_hose_has_emptied_into_the_circuit(make_bench: MakeBench) -> None:
    """See `account.Account`: the hose was weighed with the pull in it, and the charge so far is between two readings
    that both have it.
    """
    bench = make_bench(hz=5.0).ready(gross=1.0, draw="liquid")
    bench.probes = {"low/pressure": 3e5, "ambient/temperature": 20.0, "container/temperature": 20.0}
    bench.engine(running=True)
    bench.valve("container", is_open=True)
    bench.run(2.0, flow=16e-3)
    bench.run(6.0)
    bench.valve("low", is_open=True)
    bench.run(20.0, flow=8e-3)
    assert _tug_kg(bench) == pytest.approx(STILL_PULLS * TUG_U_KG)
    bench.valve("container", is_open=False)
    bench.run(60.0)
    assert _tug_kg(bench) == pytest.approx(TUG_U_KG)


def _tug_of_vapour_kg(make: MakeBench, *, air_c: float, container_c: float, filled: tuple[float, float]) -> float:
    """`filled`: for how many seconds how fast, kg/s, the hose filled before the circuit was opened."""
    bench = make(hz=5.0).ready(gross=1.0)
    bench.probes = {"ambient/temperature": air_c, "container/temperature": container_c, "low/pressure": 3e5}
    bench.run(1.0)
    bench.valve("container", is_open=True)
    bench.run(filled[0], flow=filled[1])
    bench.run(6.0)
    bench.valve("low", is_open=True)
    bench.run(20.0, flow=2e-3)
    return _tug_kg(bench)


def test_the_pull_counts_with_vapour_as_far_as_the_scale_was_believed(make_bench: MakeBench) -> None:
    """With clamp and air of one temperature nothing condenses, and a gram of vapour is reckoned better than weighed."""
    reckoned_kg = _tug_of_vapour_kg(make_bench, air_c=20.0, container_c=20.0, filled=(1.0, 0.8e-3))
    weighed_kg = _tug_of_vapour_kg(make_bench, air_c=10.0, container_c=45.0, filled=(2.0, 5e-3))
    assert STILL_PULLS * TUG_U_KG <= reckoned_kg < TUG_U_KG
    assert reckoned_kg < weighed_kg <= TUG_U_KG
