"""The façade against printed tables. The numbers came by way of open tests, not of the papers."""

from __future__ import annotations

import pytest

from fillmark.refrigerants.facade import get

# One part in 10 000, and half a unit of the last digit that is printed.
RELATIVE = 1e-4

Row = tuple[float, float, float, float, float, float, float]

# Each row: T in K, p in Pa, saturated liquid and vapour density in kg/m³, then half a unit of each last digit.
# Tillner-Roth & Baehr, J. Phys. Chem. Ref. Data 23 (1994) 657, Table 8 p. 696.
R134A = [
    (169.85, 390.0, 1591.1, 0.02817, 5.0, 0.05, 5e-6),
    (200.0, 6310.0, 1510.5, 0.38977, 5.0, 0.05, 5e-6),
    (250.0, 115610.0, 1367.9, 5.9546, 5.0, 0.05, 5e-5),
    (300.0, 702820.0, 1199.7, 34.193, 5.0, 0.05, 5e-4),
    (350.0, 2461100.0, 951.32, 140.99, 50.0, 0.005, 5e-3),
    (374.0, 4041600.0, 587.91, 434.06, 50.0, 0.005, 5e-3),
]
# Span & Wagner, J. Phys. Chem. Ref. Data 25 (1996) 1509, Table 34 p. 1560.
R744 = [
    (216.592, 517960.0, 1178.46, 13.761, 5.0, 0.005, 5e-4),
    (240.0, 1282500.0, 1088.87, 33.295, 50.0, 0.005, 5e-4),
    (260.0, 2418800.0, 998.89, 64.417, 50.0, 0.005, 5e-4),
    (280.0, 4160700.0, 883.58, 121.74, 50.0, 0.005, 5e-3),
    (300.0, 6713100.0, 679.24, 268.58, 50.0, 0.005, 5e-3),
    (304.0, 7355500.0, 530.30, 406.42, 50.0, 0.005, 5e-3),
]
# Outcalt & McLinden, J. Phys. Chem. Ref. Data 25 (1996) 605, Table 6.
R152A = [
    (223.15, 27425.0, 1063.7, 0.9936, 0.5, 0.05, 5e-5),
    (273.15, 263992.0, 959.1, 8.3589, 0.5, 0.05, 5e-5),
    (323.15, 1177382.0, 830.8, 37.0576, 0.5, 0.05, 5e-5),
    (373.15, 3505025.0, 618.5, 145.7543, 0.5, 0.05, 5e-5),
]
# Lemmon, McLinden & Wagner, J. Chem. Eng. Data 54 (2009) 3141, Table A1.
R290 = [
    (223.15, 70569.0, 589.90, 1.7270, 0.5, 0.005, 5e-5),
    (323.15, 1713300.0, 448.87, 38.630, 50.0, 0.005, 5e-4),
]
# Tillner-Roth & Yokozeki, J. Phys. Chem. Ref. Data 26 (1997) 1273, Table 12.
R32 = [
    (223.15, 110140.0, 1208.4, 3.2316, 5.0, 0.05, 5e-5),
    (273.15, 813100.0, 1055.3, 22.091, 5.0, 0.05, 5e-4),
    (323.15, 3141200.0, 839.26, 98.550, 50.0, 0.005, 5e-4),
]

SATURATION = [
    (name, row)
    for name, rows in (("R-134a", R134A), ("R-744", R744), ("R-152a", R152A), ("R-290", R290), ("R-32", R32))
    for row in rows
]


@pytest.mark.parametrize(("name", "row"), SATURATION)
def test_saturation_of_pure_refrigerants(name: str, row: Row) -> None:
    t, p, liquid, vapour, dp, dl, dv = row
    refrigerant = get(name)
    for pressure in (refrigerant.bubble_pressure_pa(t), refrigerant.dew_pressure_pa(t)):
        assert pressure == pytest.approx(p, rel=RELATIVE, abs=dp)
    assert refrigerant.saturated_liquid_density_kg_m3(t) == pytest.approx(liquid, rel=RELATIVE, abs=dl)
    assert refrigerant.saturated_vapour_density_kg_m3(t) == pytest.approx(vapour, rel=RELATIVE, abs=dv)


def test_saturation_temperature_of_r134a_at_one_bar() -> None:
    # Tillner-Roth & Baehr (1994), Table 8: 0.1 MPa at 246.79 K, 1377.5 and 5.1932 kg/m³.
    refrigerant = get("R-134a")
    t = refrigerant.dew_temperature_k(0.1e6)
    assert t == pytest.approx(246.79, abs=0.005)
    assert refrigerant.saturated_liquid_density_kg_m3(t) == pytest.approx(1377.5, abs=0.05)
    assert refrigerant.saturated_vapour_density_kg_m3(t) == pytest.approx(5.1932, abs=5e-5)


def test_superheated_r134a() -> None:
    # Tillner-Roth & Baehr (1994), Table 9 p. 700: 265 K, 0.2 MPa, 9.9171 kg/m³.
    assert get("R-134a").vapour_density_kg_m3(265.0, 0.2e6) == pytest.approx(9.9171, abs=5e-5)


# ASHRAE Handbook Fundamentals, chapter 30 (from memory; 0.015 % and the last digit): °C, MPa.
ASHRAE_R134A = [
    (-40.0, 0.05121),
    (-20.0, 0.13273),
    (0.0, 0.29280),
    (10.0, 0.41461),
    (25.0, 0.66538),
    (40.0, 1.0166),
    (60.0, 1.6818),
    (80.0, 2.6332),
]


@pytest.mark.parametrize(("celsius", "mpa"), ASHRAE_R134A)
def test_r134a_in_the_handbook(celsius: float, mpa: float) -> None:
    assert get("R-134a").dew_pressure_pa(celsius + 273.15) == pytest.approx(mpa * 1e6, rel=1.5e-4)


# Molar masses of the same papers, kg/mol (from memory).
M_R1234YF, M_R290 = 0.1140416, 0.04409562

# Lemmon & Akasaka, Int. J. Thermophys. 43 (2022) 119, Table 7: K, mol/dm³, Pa. The row at 368 K is left out: within
# a kelvin of the critical point the density follows no longer from the pressure to any useful digit.
R1234YF_VAPOUR = [(280.0, 0.1, 0.2185345e6), (340.0, 1.0, 1.855076e6)]
R1234YF_LIQUID = [(280.0, 11.0, 28.95760e6), (340.0, 8.0, 2.309798e6)]


@pytest.mark.parametrize(("t", "molar", "p"), R1234YF_VAPOUR)
def test_vapour_of_r1234yf(t: float, molar: float, p: float) -> None:
    density = get("R-1234yf").vapour_density_kg_m3(t, p)
    assert density == pytest.approx(molar * 1000.0 * M_R1234YF, rel=1e-6)


@pytest.mark.parametrize(("t", "molar", "p"), R1234YF_LIQUID)
def test_liquid_of_r1234yf(t: float, molar: float, p: float) -> None:
    density = get("R-1234yf").liquid_density_kg_m3(t, p)
    assert density == pytest.approx(molar * 1000.0 * M_R1234YF, rel=1e-6)


def test_vapour_and_liquid_of_r290() -> None:
    # Lemmon, McLinden & Wagner (2009), Table 5: 300 K with 0.4 mol/dm³ and with 12 mol/dm³.
    propane = get("R-290")
    assert propane.vapour_density_kg_m3(300.0, 0.84694991e6) == pytest.approx(400.0 * M_R290, rel=1e-6)
    assert propane.liquid_density_kg_m3(300.0, 19.053797e6) == pytest.approx(12000.0 * M_R290, rel=1e-6)


# Fixed points: R-134a Tillner-Roth & Baehr (1994), R-744 Span & Wagner (1996) (both from memory), R-1234yf Lemmon &
# Akasaka (2022).
@pytest.mark.parametrize(
    ("name", "critical_k", "critical_pa"),
    [("R-134a", 374.21, 4.0593e6), ("R-744", 304.1282, 7.3773e6), ("R-1234yf", 367.85, 3.3844e6)],
)
def test_critical_points(name: str, critical_k: float, critical_pa: float) -> None:
    refrigerant = get(name)
    assert refrigerant.critical_temperature_k == pytest.approx(critical_k, abs=0.003)
    top_pa = refrigerant.dew_pressure_pa(refrigerant.critical_temperature_k)
    assert top_pa == pytest.approx(critical_pa, rel=RELATIVE)


# Lemmon, Int. J. Thermophys. 24 (2003) 991, Table V p. 998: all at 300 K; MPa and mol/dm³, with the molar mass that
# belongs to the nominal composition, kg/mol.
LEMMON_TABLE_V = [
    ("R-407C", 0.0862036, (1.2507, 13.10230, 1.0757, 0.53670)),
    ("R-410A", 0.0725854, (1.7404, 14.45917, 1.7351, 0.95997)),
    ("R-404A", 0.0976038, (1.3169, 10.60497, 1.3034, 0.70599)),
    ("R-507A", 0.0988592, (1.3462, 10.50670, 1.3450, 0.73552)),
]


@pytest.mark.parametrize(("name", "molar_mass", "row"), LEMMON_TABLE_V)
def test_blends_at_300_k(name: str, molar_mass: float, row: tuple[float, float, float, float]) -> None:
    bubble, liquid, dew, vapour = row
    # The table is of the pseudo-pure equations, the façade of the mixture models: they differ by up to 0.04 %.
    refrigerant = get(name)
    between_models = 4e-4
    assert refrigerant.bubble_pressure_pa(300.0) == pytest.approx(bubble * 1e6, rel=2e-4)
    assert refrigerant.dew_pressure_pa(300.0) == pytest.approx(dew * 1e6, rel=2e-4)
    molar_liquid = refrigerant.saturated_liquid_density_kg_m3(300.0) / molar_mass / 1000.0
    molar_vapour = refrigerant.saturated_vapour_density_kg_m3(300.0) / molar_mass / 1000.0
    assert molar_liquid == pytest.approx(liquid, rel=between_models)
    assert molar_vapour == pytest.approx(vapour, rel=between_models)
