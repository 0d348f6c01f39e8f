"""The models of the actions: design, units, and one list of types."""

from __future__ import annotations

import copy
from typing import Any, get_args

import pytest
from pydantic import BaseModel, ValidationError

from fillmark.wire import actions
from fillmark.wire.setup import JobOpen

JOB: dict[str, Any] = {
    "type": "job.open",
    "circuit": {"refrigerant": "R-1234yf", "charge_min": "480 g", "charge_max": "520 g", "volume": "2.4 L"},
    "aim": "495 g",
    "hose": {"length": "1.8 m", "bore": "4.8 mm", "shutoff": True},
    "scale": {"resolution": "1 g", "class": "III", "capacity": "15 kg", "delay": "500 ms"},
    "limits": {"high_pressure_abs": "28 bar", "low_pressure_abs": "0.5 bar", "container_temperature": "52 °C"},
    "reaction_time": "1.5 s",
    "altitude": "340 m",
    "barometer": "980 hPa",
}
JOB_SI: dict[str, Any] = {
    "type": "job.open",
    "circuit": {"refrigerant": "R-1234yf", "charge_min_kg": 0.48, "charge_max_kg": 0.52, "volume_m3": 0.0024},
    "aim_kg": 0.495,
    "hose": {"length_m": 1.8, "bore_m": 0.0048, "shutoff": True},
    "scale": {"resolution_kg": 0.001, "class": "III", "capacity_kg": 15, "delay_s": 0.5},
    "limits": {"high_pressure_abs_pa": 28e5, "low_pressure_abs_pa": 50e3, "container_temperature_k": 325.15},
    "reaction_time_s": 1.5,
    "altitude_m": 340,
    "barometer_pa": 98e3,
}
MOUNT = {
    "type": "container.mount", "container": "C1", "net": "340 g", "gross": "450 g", "tare": "110 g", "heel": "5 g",
    "volume": "300 mL", "draw": "liquid",
}  # fmt: skip
MOUNT_SI = {
    "type": "container.mount", "container": "C1", "net_kg": 0.34, "gross_kg": 0.45, "tare_kg": 0.11, "heel_kg": 0.005,
    "volume_m3": 300e-6, "draw": "liquid",
}  # fmt: skip
PAIRS: list[tuple[dict[str, Any], dict[str, Any]]] = [
    (JOB, JOB_SI),
    (MOUNT, MOUNT_SI),
    ({"type": "purge", "mass": "4 g"}, {"type": "purge", "mass_kg": 0.004}),
    ({"type": "hose.recovered", "mass": "22 g"}, {"type": "hose.recovered", "mass_kg": 0.022}),
    (
        {"type": "correct", "mass": "-3 g", "reason": "spilt"},
        {"type": "correct", "mass_kg": -0.003, "reason": "spilt"},
    ),
    (
        {"type": "stop_point.shelve", "stop_point": "reading-stale", "duration": "5 min", "reason": "probe"},
        {"type": "stop_point.shelve", "stop_point": "reading-stale", "duration_s": 300, "reason": "probe"},
    ),
]


def flat(value: object, path: str = "") -> dict[str, object]:
    if isinstance(value, dict):
        return {name: leaf for key, inner in value.items() for name, leaf in flat(inner, f"{path}/{key}").items()}
    return {path: value}


@pytest.mark.parametrize(("text", "number"), PAIRS, ids=lambda pair: str(pair["type"]))
def test_strings_with_a_unit_and_si_numbers_say_the_same(text: dict[str, Any], number: dict[str, Any]) -> None:
    left, right = (flat(actions.ACTION.validate_python(raw).model_dump()) for raw in (text, number))
    assert left.keys() == right.keys()
    for name, value in left.items():
        assert value == (pytest.approx(right[name], rel=1e-12) if isinstance(value, float) else right[name]), name


def test_the_types_are_those_of_the_union_and_every_one_leads_to_a_model() -> None:
    assert len(set(actions.TYPES)) == len(actions.TYPES)
    models = get_args(get_args(actions.Action)[0])
    assert all(issubclass(model, BaseModel) for model in models)
    for name in actions.TYPES:
        try:
            found = {str(actions.ACTION.validate_python({"type": name}).type)}
        except ValidationError as error:
            found = {str(fault["loc"][0]) for fault in error.errors()}
        assert found == {name}


@pytest.mark.parametrize("name", ["job.open", "container.mount", "purge", "valve", "stop_point.shelve", "note"])
def test_the_design_names_these_types(name: str) -> None:
    assert name in actions.TYPES


def test_an_action_cannot_be_changed() -> None:
    note = actions.Note(type="note", text="dry")
    with pytest.raises(ValidationError, match="frozen"):
        setattr(note, "text", "wet")  # noqa: B010 - the refusal is what is tested
    assert note.text == "dry"


@pytest.mark.parametrize("aim", ["min", "mid", "max"])
def test_an_aim_may_be_a_name(aim: str) -> None:
    job = actions.ACTION.validate_python({**copy.deepcopy(JOB), "aim": aim})
    assert isinstance(job, JobOpen)
    assert job.aim == aim


def test_a_window_of_one_mass_and_an_aim_on_its_edge_are_allowed() -> None:
    raw = copy.deepcopy(JOB)
    raw["circuit"] |= {"charge_min": "500 g", "charge_max": "500 g"}
    job = actions.ACTION.validate_python({**raw, "aim": "500 g"})
    assert isinstance(job, JobOpen)
    assert job.aim == job.circuit.charge_min_kg == job.circuit.charge_max_kg == 0.5
