"""The pull-down against a balance integrated here: V dp/dt = Q(t) - S(p) (p - p_pump)."""

from __future__ import annotations

import math
import random
from collections.abc import Callable

import pytest

from fillmark.engine.quantity import Quantity
from fillmark.engine.setup import Hose
from fillmark.engine.vacuum.gauge import Gauge
from fillmark.engine.vacuum.pump_down import judge
from fillmark.engine.vacuum.pump_types import Cause, PumpDownTooShortError, PumpSetup
from fillmark.engine.vacuum.series import Sample
from fillmark.engine.vacuum.water import Phase

VOLUME = Quantity(4e-3, 2e-4)
HOSE = Hose(1.5, 9e-3)
THIN = Hose(1.5, 3e-3)


def pulled(
    speed: Callable[[float], float],
    load: Callable[[float], float],
    *,
    ultimate_pa: float = 3.0,
    minutes: float = 20.0,
    every: int = 150,
) -> list[Sample]:
    rng, p, step = random.Random(3), 101325.0, 0.02
    found: list[Sample] = []
    for i in range(int(minutes * 60.0 / step)):
        if i % every == 0:
            found.append(Sample(i * step, max(round(p + rng.gauss(0.0, 0.3)), 0.0)))
        p += step / VOLUME.value * (load(i * step) - speed(p) * (p - ultimate_pa))
    return found


def steady(_: float) -> float:
    return 5e-4


def nothing(_: float) -> float:
    return 0.0


def setup(
    *,
    hose: Hose | None = HOSE,
    coldest_k: float | None = 293.15,
    speed_m3_s: float | None = 5e-4,
    ultimate_pa: float | None = 3.0,
    target_pa: float | None = 66.7,
) -> PumpSetup:
    return PumpSetup(Gauge(1.0), VOLUME, coldest_k, target_pa, speed_m3_s, ultimate_pa, hose)


def test_speed_and_time_constant_of_a_steady_pump() -> None:
    # p falls by e in tau = V / S = 8 s: any textbook.
    found = judge(pulled(steady, nothing, minutes=2.0), setup(ultimate_pa=None))
    assert found.tau_s.value == pytest.approx(8.0, rel=0.08)
    assert found.air_speed_m3_s is not None
    assert found.air_speed_m3_s.value == pytest.approx(5e-4, rel=0.05)


def test_a_dry_circuit_reaches_the_pumps_ultimate_pressure() -> None:
    found = judge(pulled(steady, nothing), setup())
    assert found.plateau_reached
    assert found.plateau_pa.value == pytest.approx(3.0, abs=0.3)
    assert found.to_target_s == 0.0
    assert found.causes == ()
    assert any("takes a hold" in line for line in found.finding.does_not_prove)


def test_time_to_target() -> None:
    # From p to 66.7 Pa: tau ln((p - 3) / (66.7 - 3)), tau = V / S = 8 s.
    early = [s for s in pulled(steady, nothing, minutes=2.0, every=25) if s.time_s < 50.0]
    found = judge(early, setup())
    left = 8.0 * math.log((early[-1].pressure_pa - 3.0) / (66.7 - 3.0))
    assert left > 5.0
    assert found.to_target_s == pytest.approx(left, rel=0.5)


def test_a_plateau_from_a_leak_is_left_open_between_leak_and_vapour() -> None:
    found = judge(pulled(steady, lambda _: 0.1), setup())
    assert found.plateau_pa.value == pytest.approx(203.0, rel=0.02)  # p_pump + Q / S
    assert found.target_in_reach is None  # moisture would go in the end, a leak would not
    assert found.to_target_s is None
    assert found.causes == ()
    assert set(found.open_causes) == {Cause.LEAKING, Cause.WET, Cause.OUTGASSING, Cause.PUMP_LIMIT}
    assert found.gas_load_pa_m3_s is not None
    assert abs(found.gas_load_pa_m3_s.value - 0.1) <= 2.0 * found.gas_load_pa_m3_s.u


def test_a_plateau_at_the_declared_ultimate_pressure_is_the_pumps_own() -> None:
    found = judge(pulled(steady, nothing, ultimate_pa=160.0), setup(ultimate_pa=160.0))
    assert found.causes == (Cause.PUMP_LIMIT,)
    assert found.target_in_reach is False
    undeclared = judge(pulled(steady, nothing, ultimate_pa=160.0), setup(ultimate_pa=None))
    assert undeclared.causes == ()
    assert Cause.PUMP_LIMIT in undeclared.open_causes
    assert undeclared.target_in_reach is None


def test_a_plateau_above_what_water_can_have_is_a_leak() -> None:
    # Water has 7.4 kPa at 40 °C (any steam table), 10 K more than the coldest part; this stands at 12 kPa.
    found = judge(pulled(steady, lambda _: 6.0), setup(coldest_k=303.15))
    assert found.plateau_pa.value == pytest.approx(12003.0, rel=0.02)
    assert found.causes == (Cause.LEAKING,)
    lower = judge(pulled(steady, lambda _: 1.0), setup(coldest_k=303.15))
    assert Cause.LEAKING not in lower.causes


def test_a_sinking_plateau_near_waters_saturation_pressure_is_wet_and_a_still_one_may_be() -> None:
    # Ice at -10 °C: 259.87 Pa (IAPWS R14-08). It cools while it sublimes, so its pressure sinks.
    sinking = judge(pulled(steady, lambda t: 5e-4 * 256.9 * (1.0 - 0.1 * t / 1200.0)), setup(coldest_k=263.15))
    assert Cause.WET in sinking.causes
    assert sinking.water_phase is Phase.ICE
    still = judge(pulled(steady, lambda _: 5e-4 * 256.9), setup(coldest_k=263.15))
    assert still.plateau_pa.value == pytest.approx(259.9, rel=0.02)
    assert still.causes == ()
    assert any("260 Pa, near this level" in line for line in still.finding.does_not_prove)


def test_a_load_that_fades_is_vapour() -> None:
    found = judge(pulled(steady, lambda t: 0.1 * math.exp(-t / 900.0)), setup(target_pa=30.0))
    assert found.causes == (Cause.OUTGASSING,)
    assert Cause.LEAKING not in found.open_causes


def test_a_thin_hose_is_told_from_a_small_pump() -> None:
    def thin(p: float) -> float:
        return 1.0 / (
            1.0 / 5e-4 + 1.0 / (math.pi * THIN.bore_m**4 * p / 2.0 / (128.0 * 1.82e-5 * THIN.length_m) + 2e-6)
        )

    through_hose = judge(pulled(thin, nothing, minutes=6.0), setup(hose=THIN))
    small = judge(pulled(lambda _: 4e-5, nothing, minutes=6.0), setup(speed_m3_s=4e-5))
    assert Cause.HOSE_THIN in through_hose.causes
    assert Cause.PUMP_SMALL in small.causes


def test_undeclared_sizes_leave_it_open() -> None:
    found = judge(pulled(lambda _: 4e-5, nothing, minutes=6.0), setup(speed_m3_s=None, hose=None))
    assert found.causes == ()
    assert {Cause.HOSE_THIN, Cause.PUMP_SMALL} <= set(found.open_causes)


def test_a_shut_valve_core_makes_it_slower_than_declared() -> None:
    found = judge(pulled(lambda _: 1e-4, nothing, minutes=8.0), setup())
    assert Cause.SLOWER_THAN_DECLARED in found.causes


@pytest.mark.parametrize(("coldest_k", "boils"), [(293.15, True), (233.0, False), (None, None)])
def test_whether_moisture_boils_off(coldest_k: float | None, boils: bool | None) -> None:
    # 203 Pa: water boils (ice sublimes) at -12.8 °C; the coldest part has 20 °C, then -40 °C.
    found = judge(pulled(steady, lambda _: 0.1), setup(coldest_k=coldest_k))
    assert found.boils is boils
    assert found.boils_below_k == pytest.approx(273.15 - 12.75, abs=0.2)


def test_too_little_is_refused() -> None:
    with pytest.raises(PumpDownTooShortError, match="go on pumping"):
        judge(pulled(steady, nothing)[:5], setup())
