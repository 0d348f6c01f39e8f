"""The standing test with nitrogen. p / T of a closed volume: Gay-Lussac."""

from __future__ import annotations

import math
import random

import pytest

from fillmark.engine.atmosphere import Barometer
from fillmark.engine.quantity import Quantity
from fillmark.engine.vacuum.gauge import Gauge
from fillmark.engine.vacuum.hold_types import HoldTooShortError
from fillmark.engine.vacuum.pressure_hold import OverLimitError, PressureSetup, PressureVerdict, check_limit, judge
from fillmark.engine.vacuum.series import Sample

AIR = Barometer(101325.0, "measured")


def standing(
    *, fall_pa_s: float = 0.0, cooling_k: float = 0.0, minutes: float = 30.0, measured: bool = True
) -> list[Sample]:
    rng, found = random.Random(5), []
    absolute = 10.0e5 + AIR.pressure_pa
    for i in range(int(minutes * 12) + 1):
        time_s = 5.0 * i
        kelvin = 295.0 - cooling_k * time_s / (minutes * 60.0)
        true = (absolute - fall_pa_s * time_s) * kelvin / 295.0 - AIR.pressure_pa
        shown = round((true + rng.gauss(0.0, 300.0)) / 1000.0) * 1000.0
        probe = round((kelvin + rng.gauss(0.0, 0.03)) * 10.0) / 10.0
        found.append(Sample(time_s, shown, probe if measured else None))
    return found


def setup(*, wanted_pa_s: float = 3.0, weakest_pa: float | None = 12e5) -> PressureSetup:
    return PressureSetup(Gauge(1000.0, "compound", 0.3), AIR, wanted_pa_s, Quantity(4e-3, 2e-4), weakest_pa)


def test_cooling_is_not_a_leak() -> None:
    # 2 K of 295 K on 11.01 bar absolute are 7467 Pa: without p / T that would be a leak.
    samples = standing(cooling_k=2.0)
    assert samples[0].pressure_pa - samples[-1].pressure_pa > 6000.0
    found = judge(samples, setup(wanted_pa_s=5.0))
    assert found.verdict is PressureVerdict.TIGHT
    assert found.thermal_fall_pa == pytest.approx(7467.0, rel=0.1)


def test_a_leak_is_found_beneath_the_cooling() -> None:
    found = judge(standing(fall_pa_s=8.0, cooling_k=2.0), setup())
    assert found.verdict is PressureVerdict.LEAKING
    assert abs(found.slope_pa_s.value - 8.0) <= 2.0 * found.slope_pa_s.u
    assert found.q_pa_m3_s is not None
    assert found.q_pa_m3_s.value == pytest.approx(4e-3 * found.slope_pa_s.value)


def test_without_a_temperature_the_same_fall_is_no_leak() -> None:
    found = judge(standing(cooling_k=2.0, measured=False), setup())
    assert found.verdict is PressureVerdict.UNDECIDED
    assert not found.compensated
    assert found.thermal_fall_pa is None
    assert "thermometer" in found.finding.next[0]


def test_it_speaks_of_a_fall_only_where_there_is_one() -> None:
    still, leaks = judge(standing(cooling_k=2.0), setup()), judge(standing(fall_pa_s=8.0), setup())
    assert "stood still" in still.finding.measured[0]
    assert "fell" not in still.finding.measured[0]
    assert leaks.finding.measured[0].startswith("In 30 min the pressure fell by 14")  # 8 Pa/s for 1800 s: 14.4 kPa
    assert judge(standing(minutes=1.0), setup()).finding.measured[0].startswith("In 60 s ")


def test_a_temperature_that_bends_is_told_from_a_leak() -> None:
    """The gas follows its probe by nine tenths; that part of a bent temperature no straight fall can imitate."""
    rng = random.Random(9)
    found = []
    for i in range(361):
        cooled = 4.0 * -math.expm1(-5.0 * i / 600.0)
        true = 11.0e5 * (295.0 - 0.9 * cooled) / 295.0 - AIR.pressure_pa + rng.gauss(0.0, 300.0)
        found.append(Sample(5.0 * i, round(true / 1000.0) * 1000.0, 295.0 - cooled))
    judged = judge(found, setup(wanted_pa_s=3.0))
    assert judged.verdict is PressureVerdict.TIGHT
    assert abs(judged.slope_pa_s.value) <= 2.5 * judged.slope_pa_s.u


def test_what_it_could_have_seen() -> None:
    short, long = judge(standing(minutes=10.0), setup()), judge(standing(minutes=60.0), setup())
    assert long.detection_limit_pa_s < short.detection_limit_pa_s
    assert long.limit_q_pa_m3_s == pytest.approx(4e-3 * long.detection_limit_pa_s)
    assert any("would have shown" in line for line in long.finding.does_not_prove)


def test_a_finer_wish_than_the_test_can_fulfil_is_undecided() -> None:
    assert judge(standing(), setup(wanted_pa_s=0.01)).verdict is PressureVerdict.UNDECIDED


def test_cautions_name_what_can_hurt() -> None:
    said = " ".join(judge(standing(), setup()).finding.cautions)
    for word in ("regulator", "relief valve", "Never oxygen", "compressed air", "weakest component"):
        assert word in said


def test_no_test_above_the_weakest_component_and_none_without_its_limit() -> None:
    check_limit(10e5, 12e5)
    with pytest.raises(OverLimitError, match=r"above the 9\.0 bar"):
        check_limit(10e5, 9e5)
    with pytest.raises(OverLimitError, match="never assumed"):
        check_limit(10e5, None)
    with pytest.raises(OverLimitError, match="weakest"):
        judge(standing(), setup(weakest_pa=9e5))


def test_too_little_is_refused() -> None:
    with pytest.raises(HoldTooShortError, match="10 samples"):
        judge(standing()[:5], setup())
