"""What is drawn from a container and what is left in it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from fillmark.engine.containers import u_of
from fillmark.engine.events import MountContainer

if TYPE_CHECKING:
    from tests.engine.conftest import Bench, MakeBench


def _row(bench: Bench, container: str) -> dict[str, object]:
    rows = bench.view["containers"]
    assert isinstance(rows, list)
    found: dict[str, object] = next(row for row in rows if row["id"] == container)
    return found


def _drawn(bench: Bench, mass_kg: float) -> None:
    bench.valve("low", is_open=True)
    bench.run(mass_kg / 2e-3, flow=2e-3)
    bench.valve("low", is_open=False)
    bench.run(8.0)


def test_drawn_and_left_by_hand(make_bench: MakeBench) -> None:
    bench = make_bench(hz=1.0).ready(gross=0.6, net=0.34)
    _drawn(bench, 0.158)
    row = _row(bench, "C1")
    assert row["gross_kg"] == pytest.approx(0.6, abs=1e-3)
    assert row["drawn_kg"] == pytest.approx(0.158, abs=1e-3)
    assert row["left_kg"] == pytest.approx(0.182, abs=1e-3)


def test_without_net_and_tare_what_is_left_is_unknown(make_bench: MakeBench) -> None:
    bench = make_bench(hz=1.0).ready(gross=0.6)
    _drawn(bench, 0.1)
    assert _row(bench, "C1")["left_kg"] is None
    assert bench.view["plan"] is None


def test_a_tare_tells_what_is_left(make_bench: MakeBench) -> None:
    bench = make_bench(hz=1.0).open_job()
    bench.begin()
    bench.mount(gross=0.6, tare=0.2)
    bench.run(4.0)
    _drawn(bench, 0.1)
    assert _row(bench, "C1")["left_kg"] == pytest.approx(0.3, abs=1e-3)


def test_declared_gross_and_tare_tell_the_net(make_bench: MakeBench) -> None:
    bench = make_bench().open_job()
    bench.feed(MountContainer(bench.clock, "C1", gross_kg=0.55, tare_kg=0.2))
    assert bench.job.course.containers["C1"].net_kg == pytest.approx(0.35)


def test_a_heel_cannot_be_drawn(make_bench: MakeBench) -> None:
    bench = make_bench(hz=1.0).open_job()
    bench.begin()
    bench.mount(gross=0.6, net=0.34, heel=0.04)
    bench.run(4.0)
    _drawn(bench, 0.1)
    container = bench.job.course.container
    assert container is not None
    assert container.drawable_kg(bench.job.course.pan) == pytest.approx(0.2, abs=1e-3)


def test_a_container_that_comes_back_goes_on_where_it_was(make_bench: MakeBench) -> None:
    bench = make_bench(hz=1.0).ready(gross=0.6, net=0.34)
    _drawn(bench, 0.1)
    bench.unmount()
    bench.mount("C2", gross=0.6, net=0.34)
    bench.run(4.0)
    _drawn(bench, 0.05)
    bench.unmount()
    bench.mount("C1", gross=0.5)
    bench.run(4.0)
    _drawn(bench, 0.06)
    assert _row(bench, "C1")["drawn_kg"] == pytest.approx(0.16, abs=2e-3)
    assert _row(bench, "C1")["left_kg"] == pytest.approx(0.18, abs=2e-3)
    assert _row(bench, "C2")["drawn_kg"] == pytest.approx(0.05, abs=1e-3)
    assert _row(bench, "C2")["mounted"] is False


def test_what_is_said_at_its_return_is_heard(make_bench: MakeBench) -> None:
    """A slip that is corrected at the second mounting: the refrigerant guards people, tare and heel guard the stock."""
    bench = make_bench().open_job()
    bench.begin()
    bench.mount()
    bench.unmount()
    bench.mount(refrigerant="R-1", tare=0.2, heel=0.03)
    assert "wrong-refrigerant-suspected" in bench.active
    container = bench.job.course.containers["C1"]
    assert (container.tare_kg, container.heel_kg) == (0.2, 0.03)


def test_variance_that_rounding_left_below_zero_is_no_doubt() -> None:
    assert u_of(-1e-18) == 0.0
    assert u_of(4e-6) == pytest.approx(2e-3)
