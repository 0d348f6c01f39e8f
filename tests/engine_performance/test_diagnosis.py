"""The diagnosis on pictures that service textbooks paint: which gauges, which pipes, which fault. Signs, not numbers.

Every picture is `common practice, no source` in its numbers.
"""

from __future__ import annotations

from collections.abc import Callable

import pytest

from fillmark.engine.performance.conditions import FAULTS, STATIONARY, VEHICLE, Condition, Feature, Layout
from fillmark.engine.performance.cycle import CycleInput, cycle
from fillmark.engine.performance.cycling import Rhythm
from fillmark.engine.performance.diagnosis import CONFIDENT, Diagnosis, Verdict, diagnose
from fillmark.engine.performance.static import static_check
from fillmark.engine.performance.values import Probes
from fillmark.engine.performance.vent import STATIONARY_RULE, expected
from fillmark.refrigerants import facade

Judge = Callable[..., Diagnosis]
NO_CYCLES = Rhythm(0, None, None, None, None, 240.0)
FAST = Rhythm(30, 8.0, 0.4, 2.0e5, 3.2e5, 240.0)

# bar absolute and °C at 30 °C ambient, R-134a, expansion valve and receiver
GOOD = {"low": 3.0, "high": 15.0, "suction": 9.0, "liquid": 49.0, "vent": 10.5, "discharge": 75.0}
STARVED = {"low": 1.9, "high": 11.5, "suction": 14.0, "liquid": 44.5, "vent": 20.0, "discharge": 78.0}
STACKED = {"low": 2.1, "high": 11.5, "suction": 14.0, "liquid": 33.5, "vent": 19.0, "discharge": 75.0}
CHOKED = {"low": 3.3, "high": 23.5, "suction": 12.0, "liquid": 69.0, "vent": 12.0, "discharge": 97.0}
LAZY = {"low": 4.5, "high": 10.5, "suction": 20.0, "liquid": 37.0, "vent": 20.0, "discharge": 62.0}


def test_a_healthy_picture_shows_nothing(judge: Judge) -> None:
    found = judge(**GOOD, rhythm=NO_CYCLES)
    assert found.verdict is Verdict.NOTHING_SHOWS
    assert found.condition is Condition.HEALTHY
    assert found.serious is not None
    assert found.serious <= 0.1
    assert "mild faults" in " ".join(found.finding.does_not_prove)


@pytest.mark.parametrize(
    ("picture", "condition"),
    [(STARVED, Condition.UNDERCHARGE), (STACKED, Condition.RESTRICTED), (CHOKED, Condition.CONDENSER_AIRFLOW),
     (LAZY, Condition.COMPRESSOR_WEAK)],
)  # fmt: skip
def test_textbook_pictures(judge: Judge, picture: dict[str, float], condition: Condition) -> None:
    found = judge(**picture, rhythm=NO_CYCLES)
    assert found.odds[0][0] is condition
    assert found.odds[0][1] > 0.6
    assert sum(chance for _, chance in found.odds) == pytest.approx(1.0)


def test_too_much_and_air_look_alike_until_the_static_pressure_is_read(judge: Judge) -> None:
    picture = {"low": 3.2, "high": 21.5, "suction": 11.0, "liquid": 52.0, "vent": 11.5}
    found = judge(**picture, rhythm=NO_CYCLES)
    assert found.verdict is Verdict.UNDECIDED
    assert {Condition.OVERCHARGE, Condition.AIR} <= set(found.candidates)
    assert Feature.STATIC_EXCESS in found.ask
    assert any("static pressure" in step for step in found.finding.next)
    fluid = facade.get("R-134a")
    airy = static_check(fluid, fluid.bubble_pressure_pa(298.15) + 110e3, 298.15, Probes())
    assert judge(**picture, rhythm=NO_CYCLES, static=airy).condition is Condition.AIR
    pure = static_check(fluid, fluid.bubble_pressure_pa(298.15), 298.15, Probes())
    assert dict(judge(**picture, static=pure).odds)[Condition.AIR] < 0.25


def test_early_in_a_charge_it_is_undercharged(judge: Judge) -> None:
    # About 15 psi low, 65 psi high on the gauges at 67 °F, cycling: common practice, no source.
    found = judge(low=2.05, high=5.5, suction=17.0, liquid=18.5, vent=15.0, ambient=19.44, rhythm=FAST, layouts=VEHICLE)
    assert found.odds[0][0] is Condition.UNDERCHARGE
    assert any("cycles 8.0 times" in text for text in found.finding.measured)


def test_a_resting_compressor_is_called_normal_where_the_vent_is_cold(judge: Judge) -> None:
    calm = Rhythm(12, 3.0, 0.5, 2.5e5, 3.6e5, 240.0)
    found = judge(low=2.9, high=8.2, suction=7.0, liquid=26.5, vent=5.0, ambient=20.0, rhythm=calm)
    assert found.odds[0][0] is Condition.CYCLING_NORMALLY
    assert Condition.HEALTHY not in dict(found.odds)


@pytest.mark.parametrize(
    "missing",
    [
        {"low": None},
        {"high": None},
        {"ambient": None},
        {"suction": None, "liquid": None, "vent": None, "discharge": None},
    ],
)
def test_not_enough_data_says_what_to_read(judge: Judge, missing: dict[str, None]) -> None:
    found = judge(**{**GOOD, **missing})
    assert found.verdict is Verdict.NOT_ENOUGH
    assert found.condition is None
    assert found.candidates == ()
    assert found.odds == ()
    assert found.serious is None
    assert found.finding.proves == ()
    assert found.finding.next


def test_one_wild_probe_is_not_a_verdict(judge: Judge) -> None:
    found = judge(**{**GOOD, "liquid": -20.0}, rhythm=NO_CYCLES)
    assert found.verdict is Verdict.UNDECIDED


def test_readings_that_fit_nothing_are_not_forced_into_a_fault(judge: Judge) -> None:
    found = judge(low=6.5, high=27.0, suction=60.0, liquid=20.0, vent=29.0, discharge=84.0, rhythm=NO_CYCLES)
    assert found.verdict is Verdict.UNDECIDED
    assert any("check the probes" in text for text in found.finding.does_not_prove)


def test_carbon_dioxide_is_not_judged_by_rules_for_others(judge: Judge) -> None:
    found = judge(low=35.0, high=90.0, suction=10.0, liquid=35.0, vent=10.0, refrigerant="R-744")
    assert found.verdict is Verdict.NOT_ENOUGH
    assert any("R-744" in text for text in found.finding.does_not_prove)


def test_a_clear_verdict_is_one_condition_with_clear_odds(judge: Judge) -> None:
    found = judge(**{**STARVED, "liquid": 45.5, "vent": 23.0}, rhythm=NO_CYCLES)
    assert found.verdict is Verdict.CLEAR
    assert found.candidates == (found.condition,)
    assert found.odds[0][1] >= CONFIDENT
    assert found.ask == ()
    assert "Do not top up by pressure" in found.finding.next[0]


def test_sharper_probes_never_make_a_healthy_circuit_look_worse(judge: Judge) -> None:
    known, unknown = judge(**GOOD, rhythm=NO_CYCLES), judge(**GOOD, rhythm=NO_CYCLES, humidity=None)
    assert known.odds[0][0] is Condition.HEALTHY
    assert unknown.odds[0][0] is Condition.HEALTHY


@pytest.mark.parametrize("layouts", [VEHICLE, *((layout,) for layout in Layout)])
def test_every_condition_can_win(judge: Judge, layouts: tuple[Layout, ...]) -> None:
    names = {condition for condition, _ in judge(**GOOD, layouts=layouts).odds}
    assert names == {Condition.HEALTHY, *FAULTS}


def test_a_rooms_circuit_without_the_rooms_air_asks_for_it() -> None:
    given = CycleInput(4.9e5, 16e5, 285.15, 308.15, None, 287.15, 303.15)
    fluid = facade.get("R-407C")
    allowed = expected(given, Probes(), STATIONARY_RULE)
    assert allowed is None
    found = diagnose(fluid, cycle(fluid, given, Probes()), allowed, layouts=STATIONARY)
    assert found.verdict is Verdict.NOT_ENOUGH
    assert any("air that enters the evaporator" in step for step in found.finding.next)
