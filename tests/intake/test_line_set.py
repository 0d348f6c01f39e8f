"""A stationary circuit: factory charge plus so much for every metre of line beyond the included length."""

from __future__ import annotations

from typing import Any

import pytest

from fillmark.engine.events import OpenJob
from fillmark.engine.setup import Setup
from fillmark.intake.events import IntakeError, from_action


def job(**line: str) -> dict[str, Any]:
    circuit: dict[str, Any] = {
        "refrigerant": "R-32",
        "charge_min": "1.2 kg",
        "charge_max": "1.22 kg",
        "kind": "stationary",
    }
    return {"type": "job.open", "circuit": circuit | ({"line": line} if line else {}), "scale": {"resolution": "1 g"}}


def setup_of(raw: dict[str, Any]) -> Setup:
    event = from_action(raw, 1.0)
    assert isinstance(event, OpenJob)
    return event.setup


def test_every_extra_metre_adds_its_rate() -> None:
    """Common practice of installation manuals, no source: 12 m of line, 7.5 m included, 20 g/m are 90 g more."""
    setup = setup_of(job(length="12 m", included="7.5 m", rate="20 g/m"))
    assert setup.circuit.line_extra_kg == pytest.approx(0.090)
    assert setup.circuit.charge_min_kg == pytest.approx(1.290)
    assert setup.circuit.charge_max_kg == pytest.approx(1.310)
    assert setup.aim_kg == pytest.approx(1.300)


def test_a_shorter_line_takes_nothing_away() -> None:
    setup = setup_of(job(length="5 m", included="7.5 m", rate="20 g/m"))
    assert setup.circuit.line_extra_kg == 0.0
    assert setup.circuit.charge_min_kg == pytest.approx(1.2)


def test_an_aim_is_held_against_the_window_with_the_line() -> None:
    raw = job(length="12 m", included="7.5 m", rate="20 g/m")
    assert setup_of(raw | {"aim": "1.3 kg"}).aim_kg == pytest.approx(1.3)
    with pytest.raises(IntakeError, match="outside the window"):
        from_action(raw | {"aim": "1.21 kg"}, 1.0)


def test_a_vehicle_has_no_line_set() -> None:
    raw = job(length="12 m", included="7.5 m", rate="20 g/m")
    raw["circuit"]["kind"] = "vehicle"
    with pytest.raises(IntakeError) as refused:
        from_action(raw, 1.0)
    assert refused.value.field == "/circuit/line"
