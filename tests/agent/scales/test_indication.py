"""A scale's channels: mass and flag together, a changed unit or a fault instead of a number."""

from __future__ import annotations

import pint
import pytest

from fillmark_agent.edge.channel_table import ChannelTable
from fillmark_agent.edge.outcome import FaultKind, Measurement
from fillmark_agent.scales.indication import UNITS, Indication, ScaleEdge, fault

START_S = 1_800_000_000.0


@pytest.fixture
def edge() -> ScaleEdge:
    return ScaleEdge(ChannelTable(channel="scale/mass"), "bay-1")


def said(edge: ScaleEdge, seen: Indication, at_s: float) -> dict[str, object]:
    pack = edge.take(seen, START_S + at_s)
    return {record.name: record.value if record.text is None and record.flag is None else record.text or record.flag
            for record in pack}  # fmt: skip


def test_mass_and_flag_have_their_channels(edge: ScaleEdge) -> None:
    assert edge.channels == ("bay-1/scale/mass", "bay-1/scale/stable")
    found = said(edge, Indication(Measurement(1214.0, "g"), stable=True), 0.0)
    assert found == {"bay-1/scale/mass": 1.214, "bay-1/scale/stable": True}
    assert set(said(edge, Indication(Measurement(1213.0, "g")), 0.1)) == {"bay-1/scale/mass"}


@pytest.mark.parametrize("unit", UNITS)
def test_every_unit_is_that_of_pint(unit: str) -> None:
    edge = ScaleEdge(ChannelTable(channel="scale/mass"), "bay-1")
    registry: pint.UnitRegistry[float] = pint.UnitRegistry()
    value = {"mg": 5e6, "g": 5e3, "t": 0.005}.get(unit, 5.0)
    expected = registry.Quantity(value, {"t": "tonne"}.get(unit, unit)).to("kg").magnitude
    found = said(edge, Indication(Measurement(value, unit)), 0.0)["bay-1/scale/mass"]
    assert found == pytest.approx(expected, abs=1e-9)


def test_a_unit_that_changes_in_mid_stream_is_a_fault_until_it_is_set_back(edge: ScaleEdge) -> None:
    said(edge, Indication(Measurement(500.0, "g"), stable=True), 0.0)
    changed = said(edge, Indication(Measurement(17.64, "oz"), stable=True), 0.1)
    assert list(changed) == ["bay-1/scale/mass/fault"]
    assert str(changed["bay-1/scale/mass/fault"]).startswith("unit-changed")
    assert said(edge, Indication(Measurement(17.64, "oz"), stable=True), 0.2) == {}
    back = said(edge, Indication(Measurement(501.0, "g"), stable=True), 0.3)
    assert (back["bay-1/scale/mass"], back["bay-1/scale/mass/fault"]) == (0.501, "none")


@pytest.mark.parametrize("kind", list(FaultKind))
def test_a_fault_is_told_without_a_number_and_without_a_flag(edge: ScaleEdge, kind: FaultKind) -> None:
    found = said(edge, fault(kind, "something"), 0.0)
    assert found == {"bay-1/scale/mass/fault": f"{kind}: something"}


def test_a_mass_that_no_scale_can_show_is_a_fault(edge: ScaleEdge) -> None:
    found = said(edge, Indication(Measurement(2.5e9, "g"), stable=True), 0.0)
    assert list(found) == ["bay-1/scale/mass/fault"]
