"""Where the refrigerant went: dispensed = charged + hose + lost + purged + recovered, within the doubt.

Every script knows what truly happened; what the engine says must lie within three standard uncertainties and 1 g.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from fillmark.engine import events as ev
from fillmark.engine.account import NO_PAUSE, Account, Pause, Shut
from fillmark.engine.hold_up import HoldUp
from fillmark.engine.setup import Hose

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.engine.conftest import Bench, MakeBench

FLOW = 2e-3
LIQUID_FULL_KG = 32.572e-3
VAPOUR_FULL_KG = 0.814e-3
"""The toy fluid (1000 and 25 kg/m³) in the bore of 32.572 ml."""


def _balance(bench: Bench) -> tuple[float, float]:
    """What the account does not explain of the mass dispensed, and the doubt that it admits, kg."""
    shown, account = bench.job.picture, bench.job.course.account
    hose = 0.0 if shown.hose is None else shown.hose.mass_kg
    explained = shown.charged.mass_kg - account.corrected_kg + hose
    explained += account.lost_kg + account.purged_kg + account.recovered_kg
    return shown.dispensed.mass_kg - explained, 3.0 * shown.charged.u_kg + 1e-3


def _holds(bench: Bench, charged_kg: float) -> None:
    rest, doubt = _balance(bench)
    assert abs(rest) <= doubt
    shown = bench.job.picture.charged
    assert abs(shown.mass_kg - charged_kg) <= 3.0 * shown.u_kg + 1e-3
    assert bench.job.picture.dispensed.mass_kg == pytest.approx(
        sum(c.drawn(bench.job.course.pan if c.id == bench.job.course.mounted else None)[0]
            for c in bench.job.course.containers.values())
    )  # fmt: skip


def _vapour(bench: Bench, mass_kg: float) -> None:
    bench.valve("low", is_open=True)
    bench.run(mass_kg / FLOW, flow=FLOW)
    bench.valve("low", is_open=False)
    bench.run(8.0)


def _normal_vapour(make: MakeBench) -> tuple[Bench, float]:
    bench = make(hz=2.0).ready(gross=1.0)
    bench.probes = {"low/pressure": 3e5, "ambient/temperature": 20.0}
    bench.engine(running=True)
    _vapour(bench, 0.2)
    return bench, 0.2 - VAPOUR_FULL_KG


def _container_valve_first(make: MakeBench, wait_s: float) -> tuple[Bench, float]:
    """The container is opened into the shut hose, then the circuit is opened."""
    bench = make(hz=5.0).ready(gross=1.0)
    bench.valve("container", is_open=True)
    bench.load_kg -= VAPOUR_FULL_KG
    bench.run(wait_s)
    bench.valve("low", is_open=True)
    bench.run(100.0, flow=FLOW)
    bench.valve("low", is_open=False)
    bench.run(8.0)
    bench.valve("container", is_open=False)
    bench.run(2.0)
    return bench, 0.2


def _liquid_hose_filled(make: MakeBench, hose: Hose | None = None) -> Bench:
    bench = make(hz=5.0, hose=hose or Hose(1.8, 4.8e-3)).ready(gross=1.0, draw="liquid")
    bench.probes = {"ambient/temperature": 20.0, "container/temperature": 45.0}  # the air keeps the hose from boiling
    bench.valve("container", is_open=True)
    bench.run(2.0, flow=LIQUID_FULL_KG / 2.0)
    bench.run(8.0)
    bench.valve("high", is_open=True)
    bench.run(30.0, flow=10e-3)
    bench.valve("high", is_open=False)
    bench.run(8.0)
    bench.valve("container", is_open=False)
    bench.run(2.0)
    return bench


def _liquid_recovered(make: MakeBench) -> tuple[Bench, float]:
    bench = _liquid_hose_filled(make)
    assert "hose-holds-liquid" in bench.active
    bench.feed(ev.RecoverHose(bench.clock, LIQUID_FULL_KG))
    bench.run(1.0)
    assert bench.job.course.account.recovered_kg == pytest.approx(LIQUID_FULL_KG)
    bench.unmount()
    assert bench.job.course.account.lost_kg == 0.0
    return bench, 0.3


def _liquid_unscrewed(make: MakeBench) -> tuple[Bench, float]:
    bench = _liquid_hose_filled(make)
    bench.unmount()
    assert bench.job.course.account.lost_kg == pytest.approx(LIQUID_FULL_KG, abs=4e-3)
    return bench, 0.3


def _recovery_told_after_unscrewing(make: MakeBench) -> tuple[Bench, float]:
    bench, charged = _liquid_unscrewed(make)
    lost = bench.job.course.account.lost_kg
    before = bench.charged_kg
    bench.feed(ev.RecoverHose(bench.clock, 0.020))
    assert bench.charged_kg == pytest.approx(before)
    assert bench.job.course.account.lost_kg == pytest.approx(lost - 0.020)
    return bench, charged


def _swap(make: MakeBench, *, shutoff: bool) -> tuple[Bench, float]:
    bench = make(hz=5.0, hose=Hose(1.8, 4.8e-3, shutoff)).ready(gross=1.0)
    _vapour(bench, 0.2)
    bench.unmount()
    lost = bench.job.course.account.lost_kg
    assert (lost == 0.0) is shutoff
    bench.wait_until(bench.now + 5.0)
    bench.mount("C2", gross=0.9)
    bench.run(4.0)
    _vapour(bench, 0.2)
    return bench, 0.4 - VAPOUR_FULL_KG * (1 if shutoff else 2)


def _purge_weighed(make: MakeBench) -> tuple[Bench, float]:
    bench = make(hz=5.0).ready(gross=1.0)
    bench.probes = {"ambient/temperature": 20.0, "container/temperature": 45.0}  # the air keeps the hose from boiling
    bench.valve("container", is_open=True)
    bench.load_kg -= VAPOUR_FULL_KG + 1.5e-3
    bench.run(6.0)
    bench.feed(ev.PurgeHose(bench.clock))
    assert bench.job.course.account.purged_kg == pytest.approx(1.5e-3, abs=1e-3)
    _vapour(bench, 0.2)
    return bench, 0.2


def _purge_given(make: MakeBench) -> tuple[Bench, float]:
    bench = make(hz=5.0).ready(gross=1.0)
    bench.valve("container", is_open=True)
    bench.load_kg -= VAPOUR_FULL_KG + 4e-3
    bench.run(6.0)
    bench.feed(ev.PurgeHose(bench.clock, 4e-3))
    assert bench.job.course.account.purged_kg == pytest.approx(4e-3)
    _vapour(bench, 0.2)
    return bench, 0.2


def _purge_given_while_filling(make: MakeBench) -> tuple[Bench, float]:
    bench = make(hz=5.0).ready(gross=1.0)
    bench.valve("low", is_open=True)
    bench.run(100.0, flow=FLOW)
    before = bench.charged_kg
    bench.feed(ev.PurgeHose(bench.clock, 5e-3))
    assert bench.charged_kg == pytest.approx(before - 5e-3)
    return bench, 0.2 - 5e-3 - VAPOUR_FULL_KG


def _pulled_dry(make: MakeBench) -> tuple[Bench, float]:
    bench = make(hz=5.0).ready(gross=1.0, draw="liquid")
    bench.probes = {"low/pressure": 3e5, "ambient/temperature": 20.0}
    bench.engine(running=True)
    bench.valve("container", is_open=True)
    bench.run(2.0, flow=LIQUID_FULL_KG / 2.0)
    bench.run(8.0)
    bench.valve("container", is_open=False)
    bench.valve("low", is_open=True)
    bench.run(90.0)
    bench.valve("low", is_open=False)
    bench.run(8.0)
    return bench, LIQUID_FULL_KG - VAPOUR_FULL_KG


def _no_valve_at_all(make: MakeBench) -> tuple[Bench, float]:
    bench = make(hz=5.0).ready(gross=1.0)
    bench.run(60.0, flow=FLOW)
    bench.run(10.0)
    return bench, 0.12 - VAPOUR_FULL_KG


def _no_hose_declared(make: MakeBench) -> tuple[Bench, float]:
    bench = make(hz=5.0, hose=None).ready(gross=1.0)
    _vapour(bench, 0.2)
    return bench, 0.2


SCRIPTS: dict[str, Callable[[MakeBench], tuple[Bench, float]]] = {
    "normal vapour charge": _normal_vapour,
    "container opened just before the circuit": lambda m: _container_valve_first(m, 0.4),
    "container opened and settled": lambda m: _container_valve_first(m, 8.0),
    "liquid, hose recovered and weighed": _liquid_recovered,
    "liquid, hose unscrewed full": _liquid_unscrewed,
    "liquid, recovery told after unscrewing": _recovery_told_after_unscrewing,
    "swap without a shut-off": lambda m: _swap(m, shutoff=False),
    "swap with a shut-off": lambda m: _swap(m, shutoff=True),
    "purge weighed": _purge_weighed,
    "purge given": _purge_given,
    "purge given while filling": _purge_given_while_filling,
    "hose pulled dry": _pulled_dry,
    "no valve recorded at all": _no_valve_at_all,
    "no hose declared": _no_hose_declared,
}


@pytest.mark.parametrize("script", SCRIPTS)
def test_all_that_was_dispensed_is_somewhere(script: str, make_bench: MakeBench) -> None:
    bench, charged_kg = SCRIPTS[script](make_bench)
    _holds(bench, charged_kg)


def test_a_purge_of_unknown_mass_without_valves_is_doubt_and_no_number(make_bench: MakeBench) -> None:
    bench, _ = _no_valve_at_all(make_bench)
    before = bench.job.picture.charged
    bench.feed(ev.PurgeHose(bench.clock))
    after = bench.job.picture.charged
    assert after.mass_kg == pytest.approx(before.mass_kg)
    assert after.u_kg > before.u_kg
    assert bench.job.course.account.purged_kg == 0.0


def test_a_correction_is_booked_apart(make_bench: MakeBench) -> None:
    bench, _ = _normal_vapour(make_bench)
    before = bench.charged_kg
    bench.feed(ev.CorrectCharge(bench.clock, -0.03, "recovered by weight"))
    assert bench.charged_kg == pytest.approx(before - 0.03)
    assert bench.job.course.account.corrected_kg == pytest.approx(-0.03)


def test_what_the_scale_does_while_the_circuit_is_shut_is_no_charge(make_bench: MakeBench) -> None:
    bench, _ = _normal_vapour(make_bench)
    before = bench.charged_kg
    bench.valve("container", is_open=False)
    bench.extra_kg = -0.004
    bench.run(60.0)
    assert bench.charged_kg == before


def test_a_fill_by_hand() -> None:
    full = HoldUp(0.04, 1e-3)
    account = Account().opened(0.0, 0.0, 0.0)
    assert account.charged(0.3, full).mass_kg == pytest.approx(0.26)
    shut = account.shut(100.0)
    assert not shut.due(104.9, 0.5, moving=False)
    assert shut.due(105.0, 0.5, moving=False)
    assert not shut.due(119.9, 0.5, moving=True)
    assert shut.due(120.0, 0.5, moving=True)
    assert not shut.due(105.0, 2.5, moving=False)
    assert shut.due(110.0, 2.5, moving=False)
    assert shut.due(120.0, 10.0, moving=False)
    booked = shut.booked(0.3, full)
    assert booked.settled_kg == pytest.approx(0.26)
    assert booked.charged(0.9, HoldUp(0.0, 0.0)).mass_kg == booked.settled_kg
    assert booked.charged(0.9, HoldUp(0.0, 0.0)).u_kg == pytest.approx(1e-3)
    assert booked.fill is None
    assert booked.booked(0.9, full) == booked


def test_a_doubt_in_the_hose_goes_when_what_it_held_goes_in_after_all() -> None:
    """Two fills through a hose that keeps its content between them: what both charged is 0.5 less the last content."""
    first = Account().opened(0.0, 0.0, 0.0).booked(0.3, HoldUp(0.04, 9e-3))
    second = first.opened(0.3, 0.04, 0.0)
    assert second.charged(0.5, HoldUp(0.001, 2e-4)).mass_kg == pytest.approx(0.499)
    assert second.charged(0.5, HoldUp(0.001, 2e-4)).u_kg == pytest.approx(2e-4)


def test_a_doubt_in_the_hose_stays_when_the_hose_is_emptied() -> None:
    first = Account().opened(0.0, 0.0, 0.0).booked(0.3, HoldUp(0.04, 9e-3)).parted()
    second = first.opened(0.3, 0.0, 1e-3)
    assert second.charged(0.5, HoldUp(0.001, 0.0)).u_kg == pytest.approx((9e-3**2 + 1e-3**2) ** 0.5)


def test_the_pull_of_a_hose_is_in_the_charge_once_what_was_weighed_into_it_has_gone_in() -> None:
    """Liquid weighed into a hose that pulls by p is shown p less. While it stays, all later indications have the same
    p, and the charge is a difference of two of them. Once it is in the circuit, the charge is what has left the
    container, weighed first without the pull and in the end with it. By hand.
    """
    stays = Account().pulled(0.3, hidden=True)
    assert stays.pulls == pytest.approx(0.09)
    assert stays.released().pulls == pytest.approx(1.0)
    assert stays.released().released() == stays.released()
    assert stays.pulled(1.0) == stays  # not the first fill of this container
    assert stays.lost().released().pulls == stays.pulls
    second = replace(stays.released(), first=True).pulled(1.0)
    assert second.pulls == pytest.approx(2.0)  # each container's stay has a pull of its own
    assert second.released() == second


def test_what_comes_back_after_a_pause_of_the_flow_was_hidden_by_a_push() -> None:
    """The flow slowed and let 10 g less come; seconds after the valve was shut the scale shows 9 g more. The hose has
    room for nothing, so the push has let go, and the charge is what the scale shows. Without a pause, or with one of
    another size, vapour may have condensed in the hose.
    """
    nothing = HoldUp(0.0, 0.0)
    for pause, share in ((Pause(0.010, 3e-3), 1.0), (Pause(0.004, 3e-3), 0.0), (NO_PAUSE, 0.0)):
        shut = Shut(HoldUp(0.5, 0.5e-3), nothing, 0.0, 0.4e-3, pause)
        assert shut.share(0.509) == share
        assert shut.share(0.491) == 1.0
        assert shut.dispensed(0.509).mass_kg == pytest.approx(0.5 + share * 0.009)


def test_what_the_pan_takes_back_belongs_to_the_fill_that_counted_it() -> None:
    full, nothing = HoldUp(0.04, 1e-3), HoldUp(0.0, 0.0)
    begun = Account().opened(0.0, 0.0, 0.0)
    assert begun.follows == 0.0
    assert begun.shut(100.0).booked(0.3, nothing).follows == 1.0  # the settled scale counts
    reckoned = Shut(HoldUp(0.3, 0.1e-3), full, 0.0, 0.4e-3)
    disturbed = Shut(HoldUp(0.3, 5e-3), full, 0.0, 0.4e-3)
    assert begun.shut(100.0, reckoned).booked(0.3005, nothing).follows == pytest.approx(0.01 / 0.17)
    assert begun.shut(100.0, reckoned).booked(0.29, nothing).follows == 1.0
    assert begun.shut(100.0, reckoned).booked(0.31, nothing).follows == 0.0
    assert begun.shut(100.0, disturbed).booked(0.31, nothing).follows == pytest.approx(25.0 / 25.16)
    assert begun.shut(100.0, disturbed).booked(0.31, nothing).settled_kg == pytest.approx(0.27, abs=0.1e-3)
    assert begun.shut(100.0, reckoned).booked(0.31, nothing).settled_kg == pytest.approx(0.26)


def test_by_hand_what_had_been_dispensed_when_the_valve_was_shut() -> None:
    """300 ± 1.5 g by the flow. The scale shows 303 g, and the hose may have taken 0 to 6 g of it: 300 ± 1.225 g
    (triangular, 3 g / sqrt(6): JCGM 100:2008 section 4.3.9).

    Of 301 g it makes 298 ± 1.225 g: 2/5 and 3/5 of the weight, 298.8 g. The doubt of both, so weighed: 0.949 g.
    """
    shut = Shut(HoldUp(0.3, 1.5e-3), HoldUp(0.04, 0.0), 6e-3, 0.0)
    assert shut.by_scale(0.303).u_kg == pytest.approx(1.5**0.5 * 1e-3)
    assert shut.dispensed(0.303).mass_kg == pytest.approx(0.3)
    assert shut.share(0.303) == pytest.approx(3.0 / 5.0)
    assert shut.dispensed(0.301).mass_kg == pytest.approx(0.2988)
    assert shut.dispensed(0.301).u_kg == pytest.approx(0.9487e-3, rel=1e-3)


def test_a_valve_that_was_entered_late_is_told_by_the_settled_scale() -> None:
    shut = Shut(HoldUp(0.33, 1.5e-3), HoldUp(0.04, 0.0), 6e-3, 0.4e-3)
    assert shut.dispensed(0.303) == HoldUp(0.3, 6e-3 / 24.0**0.5)


def test_what_is_more_than_the_flow_explains_has_gone_into_the_hose() -> None:
    shut = Shut(HoldUp(0.3, 1.5e-3), HoldUp(0.04, 0.0), 6e-3, 0.4e-3)
    assert shut.dispensed(0.32) == HoldUp(0.3, 1.5e-3)


@pytest.mark.parametrize("late_s", [0.0, 1.5, 3.0])
@pytest.mark.parametrize("tug_kg", [0.0, 0.02])
def test_nothing_is_lost_between_fills_however_late_a_valve_is_entered(
    late_s: float, tug_kg: float, make_bench: MakeBench
) -> None:
    """Charged and held are dispensed, before and after the fill is booked, and once a tug has let go."""
    bench = _liquid_hose_filled(make_bench)
    bench.valve("container", is_open=True)
    bench.valve("high", is_open=True)
    bench.run(20.0, flow=8e-3)
    bench.extra_kg = tug_kg
    bench.run(5.0, flow=8e-3)
    bench.run(late_s)
    bench.valve("high", is_open=False)
    for _ in range(8):
        bench.run(1.0)
        rest, _ = _balance(bench)
        assert rest == pytest.approx(0.0, abs=1e-6)
    bench.extra_kg = 0.0
    bench.run(8.0)
    rest, _ = _balance(bench)
    assert rest == pytest.approx(0.0, abs=1e-6)
    assert bench.charged_kg == pytest.approx(0.3 + 0.2, abs=4e-3)
