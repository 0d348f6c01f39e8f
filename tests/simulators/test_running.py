"""The running circuit against worked examples and the conservation of mass and heat."""

from __future__ import annotations

import pytest

from fillmark_sim import moist_air, plants
from fillmark_sim.running import Around, Running, Wrong
from fillmark_sim.running_fluid import table

SUMMER = Around(30.0, 30.0, 0.5)


def settled(layout: str, wrong: Wrong | None = None, around: Around = SUMMER) -> Running:
    running = Running(plants.DESIGNS[layout], wrong or Wrong(), around)
    for _ in range(800):
        running.step(0.5)
    return running


def test_the_table_reproduces_a_textbook_cycle() -> None:
    # Çengel and Boles, example 11-1 (from memory), R-134a 0.14 / 0.8 MPa: h1 239.16, h3 95.47 kJ/kg; differences only.
    # And 1.2 MPa condenses at 46.29 °C (read, coursehero HW22s).
    rows = table("R-134a")
    low, high = rows.at(rows.dew_c(0.14e6)), rows.at(rows.dew_c(0.8e6))
    assert (low.h_v - high.h_l) / 1e3 == pytest.approx(239.16 - 95.47, abs=0.1)
    assert rows.dew_c(1.2e6) == pytest.approx(46.29, abs=0.05)
    # Isentropic work 275.39 - 239.16 kJ/kg, by the exponent of the saturated vapour.
    power = (low.k - 1.0) / low.k
    work = low.pressure_pa / low.rho_v / power * ((0.8 / 0.14) ** power - 1.0)
    assert work / 1e3 == pytest.approx(36.23, rel=0.04)


def test_a_blends_dew_and_bubble_are_lemmons() -> None:
    # Lemmon (2003), table V: R-407C at 300 K, bubble 1.2507 MPa, dew 1.0757 MPa.
    rows = table("R-407C")
    assert rows.at(26.85).pressure_pa == pytest.approx(1.0757e6, rel=1e-3)
    assert rows.bubble_pressure_pa(26.85) == pytest.approx(1.2507e6, rel=1e-3)


def test_moist_air_is_the_handbooks_within_the_magnus_forms_error() -> None:
    # ASHRAE Handbook—Fundamentals (2017), chapter 1, table 2.
    for celsius, ratio in ((5.0, 0.005425), (25.0, 0.020173)):
        assert moist_air.saturated_ratio(celsius) == pytest.approx(ratio, rel=0.01)


@pytest.mark.parametrize("layout", plants.DESIGNS)
def test_refrigerant_is_neither_made_nor_lost(layout: str) -> None:
    running = Running(plants.DESIGNS[layout], Wrong(), SUMMER)
    before = running.high_kg + running.low_kg
    for _ in range(400):
        running.step(0.5)
    assert running.high_kg + running.low_kg == pytest.approx(before, rel=1e-9)


@pytest.mark.parametrize("layout", plants.DESIGNS)
def test_a_healthy_circuit_runs_as_practice_expects(layout: str) -> None:
    # Common practice, no source: evaporating around freezing, condensing 10 to 35 K over ambient, some subcooling.
    running = settled(layout, around=Around(30.0, 26.0 if layout == plants.VALVE_WITHOUT_RECEIVER else 30.0, 0.5))
    assert -5.0 < running.evaporating_c < 12.0
    assert 10.0 < running.condensing_c - 30.0 < 35.0
    assert running.clamps.vent < 17.0
    assert 1.0 < running.rows.at(running.condensing_c).bubble_c - running.clamps.liquid < 16.0


def test_at_67_fahrenheit_it_blows_about_40() -> None:
    # Common practice, no source. 19.44 °C and 4.44 °C; the compressor cycles, so the mean counts.
    running = settled(plants.VALVE_AND_RECEIVER, around=Around(19.44, 19.44, 0.5))
    total = 0.0
    for _ in range(240):
        running.step(0.5)
        total += running.clamps.vent
    assert total / 240 == pytest.approx(4.44, abs=2.0)


def test_faults_do_what_the_published_table_says() -> None:
    # Rossi and Braun (1997), directions as a thesis repeats them (yumpu.com, document 28133799, table 1-1).
    layout, around = plants.VALVE_WITHOUT_RECEIVER, Around(30.0, 25.0, 0.5)
    sound = settled(layout, around=around)
    leak = settled(layout, Wrong(charge=0.5), around)
    assert leak.evaporating_c < sound.evaporating_c
    assert leak.condensing_c < sound.condensing_c
    assert leak.clamps.suction - leak.evaporating_c > sound.clamps.suction - sound.evaporating_c + 5.0
    weak = settled(layout, Wrong(leakage=0.5), around)
    assert weak.evaporating_c > sound.evaporating_c
    assert weak.condensing_c < sound.condensing_c
    fouled = settled(layout, Wrong(condenser_air=0.4), around)
    assert fouled.evaporating_c >= sound.evaporating_c
    assert fouled.condensing_c > sound.condensing_c + 5.0
    blocked = settled(layout, Wrong(passage=0.08), around)
    assert blocked.evaporating_c < sound.evaporating_c
    assert blocked.condensing_c < sound.condensing_c


def test_air_adds_its_partial_pressure() -> None:
    airy = settled(plants.VALVE_AND_RECEIVER, Wrong(air_mol=0.03))
    assert airy.air_pa > 1e4
    assert airy.high_pa == pytest.approx(airy.rows.at(airy.condensing_c).pressure_pa + airy.air_pa, rel=0.02)
