"""Refrigerants over HTTP. Saturation itself is held to printed tables in tests/refrigerants."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from fillmark.api import schemas

if TYPE_CHECKING:
    from tests.api.conftest import Desk

PATH = "/v1/refrigerants"


async def test_all_are_listed_with_their_class(desk: Desk) -> None:
    rows = schemas.RefrigerantList.model_validate((await desk.http.get(PATH)).json()).refrigerants
    assert {"R-134a", "R-1234yf", "R-744"} <= {row.name for row in rows}
    # ASHRAE 34: R-134a A1, R-1234yf A2L, R-290 A3.
    assert {r.name: r.safety_class for r in rows if r.name in {"R-134a", "R-1234yf", "R-290"}} == {
        "R-134a": "A1",
        "R-1234yf": "A2L",
        "R-290": "A3",
    }


async def test_one_is_found_under_a_trade_spelling(desk: Desk) -> None:
    view = schemas.RefrigerantView.model_validate((await desk.http.get(f"{PATH}/hfc134a")).json())
    assert view.name == "R-134a"
    # Tillner-Roth & Baehr, J. Phys. Chem. Ref. Data 23 (1994) 657: critical point 374.21 K (from memory, rounded).
    assert view.critical_temperature_k == pytest.approx(374.21, abs=0.05)
    # Annex I of Regulation (EU) No 517/2014: 1430.
    assert view.gwp100[0].value == 1430.0


@pytest.mark.parametrize("query", ["temperature=300", "temperature=26.85 °C", "temperature=80.33 °F"])
async def test_saturation_at_a_temperature(desk: Desk, query: str) -> None:
    answer = (await desk.http.get(f"{PATH}/R-134a/saturation?{query}")).json()
    found = schemas.Saturation.model_validate(answer)
    # Tillner-Roth & Baehr 1994, Table 8: at 300 K 0.70282 MPa, 1199.7 and 34.193 kg/m³.
    assert found.bubble.pressure_abs_pa == pytest.approx(702820.0, rel=1e-4)
    assert found.bubble.liquid_density_kg_m3 == pytest.approx(1199.7, rel=1e-4)
    assert found.dew.vapour_density_kg_m3 == pytest.approx(34.193, rel=1e-4)
    assert found.coolprop == "8.0.0"


@pytest.mark.parametrize("query", ["pressure=702820", "pressure=7.0282 bar"])
async def test_saturation_at_a_pressure(desk: Desk, query: str) -> None:
    found = schemas.Saturation.model_validate((await desk.http.get(f"{PATH}/R-134a/saturation?{query}")).json())
    assert found.dew.temperature_k == pytest.approx(300.0, abs=0.01)


async def test_bubble_and_dew_of_a_blend_are_kept_apart(desk: Desk) -> None:
    found = schemas.Saturation.model_validate((await desk.http.get(f"{PATH}/R-407C/saturation?pressure=1 MPa")).json())
    # Glide of R-407C at 1.0 MPa: 5.6 K, mixture model of Lemmon 2003.
    assert found.dew.temperature_k - found.bubble.temperature_k == pytest.approx(5.6, abs=0.1)
    assert found.zeotropic


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ("", None),
        ("temperature=300&pressure=1e5", None),
        ("temperature=25", None),
        ("temperature=warm", "/query/temperature"),
        ("temperature=25 bar", "/query/temperature"),
        ("temperature=nan", "/query/temperature"),
        ("temperature=-3", "/query/temperature"),
        ("pressure=1e400", "/query/pressure"),
        ("pressure=-1 bar", "/query/pressure"),
    ],
)
async def test_what_is_no_state_is_a_422(desk: Desk, query: str, field: str | None) -> None:
    answer = await desk.http.get(f"{PATH}/R-134a/saturation?{query}")
    assert answer.status_code == 422
    assert answer.json().get("field") == field
