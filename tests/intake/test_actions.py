"""From an action's JSON to an event of the engine, and every refusal."""

from __future__ import annotations

import json
import math
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillmark.engine import events
from fillmark.engine.setup import Aim, Hose, VacuumPump
from fillmark.intake.events import IntakeError, from_action
from fillmark.wire import actions

JOB = """{"type": "job.open", "circuit": {"refrigerant": "R-1234yf", "charge_min": "480 g", "charge_max": "520 g",
  "volume": "2.4 L"}, "aim": "495 g", "hose": {"length": "1.8 m", "bore": "4.8 mm"},
  "scale": {"resolution": "1 g", "class": "III"}, "reaction_time": "1.5 s", "altitude": "340 m"}"""

# The actions as the design writes them.
DESIGN: list[tuple[str, events.Event]] = [
    ('{"type": "step.begin", "step": "charging"}', events.BeginStep(9.0, "charging")),
    ('{"type": "step.end"}', events.EndStep(9.0)),
    (
        '{"type": "container.mount", "container": "C1", "net": "340 g", "draw": "vapour"}',
        events.MountContainer(9.0, "C1", "vapour", net_kg=0.34),
    ),
    (
        '{"type": "container.mount", "container": "C1", "net": "340 g", "draw": "liquid"}',
        events.MountContainer(9.0, "C1", "liquid", net_kg=0.34),
    ),
    ('{"type": "container.unmount"}', events.UnmountContainer(9.0)),
    ('{"type": "valve", "valve": "low", "open": true}', events.SetValve(9.0, "low", open=True)),
    ('{"type": "valve", "valve": "high", "open": false}', events.SetValve(9.0, "high", open=False)),
    ('{"type": "valve", "valve": "container", "open": true}', events.SetValve(9.0, "container", open=True)),
    ('{"type": "valve", "valve": "vacuum", "open": true}', events.SetValve(9.0, "vacuum", open=True)),
    ('{"type": "purge", "mass": "4 g"}', events.PurgeHose(9.0, 0.004)),
    ('{"type": "purge"}', events.PurgeHose(9.0, None)),
    ('{"type": "engine", "running": true}', events.SetEngine(9.0, running=True)),
    (
        '{"type": "stop_point.acknowledge", "stop_point": "aim-reached"}',
        events.TreatStopPoint(9.0, "acknowledge", "aim-reached"),
    ),
    ('{"type": "hose.recovered", "mass": "22 g"}', events.RecoverHose(9.0, 0.022)),
    ('{"type": "note", "text": "dry"}', events.Note(9.0, "dry")),
    (
        '{"type": "particulars", "technician": "A. Weir", "origin": "recycled"}',
        events.StateParticulars(9.0, {"technician": "A. Weir", "origin": "recycled"}),
    ),
    ('{"type": "job.close"}', events.CloseJob(9.0)),
    ('{"type": "mass_step", "was": "handling"}', events.ExplainStep(9.0, "handling")),
    ('{"type": "correct", "mass": "-3 g", "reason": "spilt"}', events.CorrectCharge(9.0, -0.003, "spilt")),
    (
        '{"type": "stop_point.shelve", "stop_point": "x", "subject": "y", "duration": "60 s", "reason": "z"}',
        events.TreatStopPoint(9.0, "shelve", "x", "y", 60.0, "z"),
    ),
    ('{"type": "stop_point.unshelve", "stop_point": "x"}', events.TreatStopPoint(9.0, "unshelve", "x")),
    ('{"type": "pump", "running": true}', events.SetPump(9.0, running=True)),
    ('{"type": "oil", "removed": "18 mL"}', events.MoveOil(9.0, -1.8000000000000004e-05)),
    (
        '{"type": "oil", "added": "30 mL", "component": "drier"}',
        events.MoveOil(9.0, 3.0000000000000004e-05, "drier"),
    ),
    (
        '{"type": "component.replaced", "component": "drier", "oil": "15 mL"}',
        events.ReplaceComponent(9.0, "drier", 1.5000000000000002e-05),
    ),
    (
        '{"type": "step.skip", "step": "pressure_test", "reason": "no nitrogen"}',
        events.SkipStep(9.0, "pressure_test", "no nitrogen"),
    ),
    (
        '{"type": "step.begin", "step": "evacuation", "target_abs": "50 Pa"}',
        events.BeginStep(9.0, "evacuation", target_abs_pa=50.0),
    ),
    (
        (
            '{"type": "container.mount", "container": "RC1", "use": "recovery", "tare": "5.2 kg",'
            ' "water_capacity": "12 L"}'
        ),
        events.MountContainer(9.0, "RC1", tare_kg=5.2, recovers=True, water_capacity_m3=0.012000000000000004),
    ),
    ('{"type": "stop_point.reset", "stop_point": "x"}', events.TreatStopPoint(9.0, "reset", "x")),
]


@pytest.mark.parametrize(("text", "event"), DESIGN, ids=lambda value: str(value)[:40])
def test_the_design_becomes_events(text: str, event: events.Event) -> None:
    assert from_action(json.loads(text), 9.0) == event


def test_every_type_of_action_is_among_these() -> None:
    assert {json.loads(text)["type"] for text, _ in DESIGN} | {"job.open"} == set(actions.TYPES)


def test_the_design_opens_a_job() -> None:
    event = from_action(json.loads(JOB), 9.0)
    assert isinstance(event, events.OpenJob)
    setup = event.setup
    assert setup.circuit.refrigerant.name == "R-1234yf"
    assert (setup.circuit.charge_min_kg, setup.circuit.charge_max_kg, setup.aim) == (0.48, 0.52, 0.495)
    assert setup.circuit.volume_m3 == pytest.approx(0.0024)
    assert setup.hose is not None
    assert (setup.hose.length_m, setup.hose.shutoff) == (1.8, False)
    assert setup.hose.bore_m == pytest.approx(0.0048)
    assert (setup.scale.resolution_kg, setup.scale.accuracy_class, setup.scale.sheltered) == (0.001, "III", False)
    assert (setup.reaction_time_s, setup.altitude_m, setup.barometer_pa) == (1.5, 340.0, None)
    assert not setup.gauge
    assert not setup.gauge_all


def test_the_vacuum_pump_is_declared_with_its_hose() -> None:
    """70 L/min are 1.1667e-3 m³/s; 15 micron are 15e-3 mmHg of 133.322 Pa (NIST SP 811, appendix B.8)."""
    pump = {"speed": "70 L/min", "ultimate": "15 micron", "hose": {"length": "1.5 m", "bore": "8 mm"}}
    event = from_action(json.loads(JOB) | {"pump": pump}, 9.0)
    assert isinstance(event, events.OpenJob)
    assert event.setup.pump.speed_m3_s == pytest.approx(70e-3 / 60.0)
    assert event.setup.pump.ultimate_pa == pytest.approx(2.0, rel=1e-3)
    assert event.setup.pump.hose == Hose(1.5, 0.008)
    bare = from_action(json.loads(JOB) | {"pump": {"ultimate": "2 Pa"}}, 9.0)
    assert isinstance(bare, events.OpenJob)
    assert bare.setup.pump == VacuumPump(ultimate_pa=2.0)
    none = from_action(json.loads(JOB), 9.0)
    assert isinstance(none, events.OpenJob)
    assert none.setup.pump == VacuumPump()


@pytest.mark.parametrize("aim", list(Aim))
def test_an_aim_by_name(aim: Aim) -> None:
    event = from_action(json.loads(JOB) | {"aim": str(aim)}, 9.0)
    assert isinstance(event, events.OpenJob)
    assert event.setup.aim is aim


@pytest.mark.parametrize(
    ("gauge", "names", "every"),
    [(True, set(), True), (False, set(), False), (["low/pressure"], {"low/pressure"}, False)],
)
def test_gauge_pressures_are_declared(gauge: object, names: set[str], every: bool) -> None:
    event = from_action(json.loads(JOB) | {"gauge": gauge}, 9.0)
    assert isinstance(event, events.OpenJob)
    assert set(event.setup.gauge) == names
    assert event.setup.gauge_all is every


def job(**changes: Any) -> dict[str, Any]:  # noqa: ANN401 - any JSON
    return {**json.loads(JOB), **changes}


def circuit(**changes: Any) -> dict[str, Any]:  # noqa: ANN401 - any JSON
    known = json.loads(JOB)["circuit"]
    return job(circuit={name: value for name, value in {**known, **changes}.items() if value != "absent"})


def mount(**changes: Any) -> dict[str, Any]:  # noqa: ANN401 - any JSON
    return {"type": "container.mount", "container": "C1", **changes}


REFUSED: list[tuple[object, str, str]] = [
    (None, "", '{"type"'),
    ([], "", '{"type"'),
    ("note", "", '{"type"'),
    ({}, "/type", "job.open"),
    ({"type": "job.opne"}, "/type", "job.open"),
    ({"type": 5}, "/type", "job.open"),
    ({"type": "job.open"}, "/circuit", "add"),
    (circuit(charge_min="530 g"), "/circuit/charge_min", "smaller mass"),
    (circuit(charge_min="0 g", charge_max="0 g"), "/circuit/charge_max", "label"),
    (circuit(charge_min="-1 g"), "/circuit/charge_min", "at least 0 kg"),
    (circuit(charge_min="absent", charge_min_kg=-0.1), "/circuit/charge_min_kg", "at least 0 kg"),
    (circuit(charge_min="absent", charge_min_kg=math.nan), "/circuit/charge_min_kg", "520 g"),
    (circuit(charge_min="absent", charge_min_kg=10**400), "/circuit/charge_min_kg", "520 g"),
    (circuit(charge_max="1e99 kg"), "/circuit/charge_max", "at most 2000 kg"),
    (circuit(charge_min="5 stone_age"), "/circuit/charge_min", "520 g"),
    (circuit(charge_min="480,5 g"), "/circuit/charge_min", "520 g"),
    (circuit(charge_min=480), "/circuit/charge_min", "charge_min_kg"),
    (circuit(charge_min_kg=0.48), "/circuit/charge_min", "leave one"),
    (circuit(charge_min=None), "/circuit/charge_min", "520 g"),
    (circuit(charge_min="absent"), "/circuit/charge_min", "add"),
    (circuit(refrigerant="R-999"), "/circuit/refrigerant", "R-134a"),
    (circuit(refrigerant=""), "/circuit/refrigerant", "1 character"),
    (circuit(refrigerant=134), "/circuit/refrigerant", "string"),
    (circuit(refrigerant="R" * 100), "/circuit/refrigerant", "at most 64"),
    (circuit(volume="0 L"), "/circuit/volume", "leave it out"),
    (circuit(colour="red"), "/circuit/colour", "correct its name"),
    (job(circuit=[]), "/circuit", '{"name"'),
    (job(aim="530 g"), "/aim", "from 0.48 to 0.52 kg"),
    (job(aim="479.9 g"), "/aim", "from 0.48 to 0.52 kg"),
    (job(aim="middle"), "/aim", '"mid"'),
    (job(aim=0.495), "/aim", "aim_kg"),
    (job(aim=None), "/aim", '"mid"'),
    (job(aim=["mid"]), "/aim", '"mid"'),
    (job(hose={"length": "1.8 m"}), "/hose/bore", "add"),
    (job(hose={"length": "1.8 m", "bore": "4.8 m"}), "/hose/bore", "4.8 mm"),
    (job(hose={"length": "180 m", "bore": "4.8 mm"}), "/hose/length", "1.8 m"),
    (job(hose={"length": "1.8 m", "bore": "0 mm"}), "/hose/bore", "4.8 mm"),
    (job(hose={"length": "-1.8 m", "bore": "4.8 mm"}), "/hose/length", "at least 0 m"),
    (job(hose={"length": "1.8 kg", "bore": "4.8 mm"}), "/hose/length", "1.8 m"),
    (job(hose=5), "/hose", '{"name"'),
    (job(scale={"resolution": "0 g"}), "/scale/resolution", "more than 0"),
    (job(scale={"resolution": "1 g", "class": "V"}), "/scale/class", "'III'"),
    (job(scale={"resolution": "1 g", "capacity": "0 kg"}), "/scale/capacity", "leave it out"),
    (job(scale={"resolution": "1 g", "capacity": "15 g"}), "/scale/capacity", "15 kg"),
    (job(scale={}), "/scale/resolution", "add"),
    (job(scale=None), "/scale", '{"name"'),
    (job(limits={"high_pressure_abs": "400 psig"}), "/limits/high_pressure_abs", "barometric"),
    (job(limits={"high_pressure": "28 bar"}), "/limits/high_pressure", "correct its name"),
    (job(limits={"container_temperature": "52"}), "/limits/container_temperature", "°C"),
    (job(reaction_time="-1 s"), "/reaction_time", "at least 0 s"),
    (job(altitude="30 km"), "/altitude", "at most 9000 m"),
    (job(barometer="0 Pa"), "/barometer", "at least 30000 Pa"),
    (job(gauge="low/pressure"), "/gauge", "low/pressure"),
    (job(gauge=["bay-1/low/pressure"]), "/gauge", "low/pressure"),
    (job(gauge=["ambient/pressure"]), "/gauge", "low/pressure"),
    (job(gauge=[5]), "/gauge", "low/pressure"),
    (job(note="x" * 2001), "/note", "at most 2000"),
    ({"type": "valve", "valve": "sideways", "open": True}, "/valve", "'container'"),
    ({"type": "valve", "valve": "low", "open": "perhaps"}, "/open", "true or false"),
    ({"type": "valve", "valve": "low"}, "/open", "add"),
    ({"type": "step.begin", "step": "brewing"}, "/step", "'charging'"),
    ({"type": "step.end", "step": "charging"}, "/step", "leave it out"),
    ({"type": "container.mount"}, "/container", "add"),
    (mount(draw="solid"), "/draw", "'liquid'"),
    (mount(net=340), "/net", "net_kg"),
    (mount(net="340 g", net_kg=0.34), "/net", "leave one"),
    (mount(net_kg="340 m"), "/net_kg", "520 g"),
    (mount(gross="1 kg", tare="2 kg"), "/tare", "contains the tare"),
    (mount(gross="1 kg", tare="0.5 kg", net="0.6 kg"), "/net", "leave one out"),
    (mount(gross_kg=1, tare_kg=0.5, net_kg=0.6), "/net_kg", "leave one out"),
    (mount(refrigerant="R-999"), "/refrigerant", "R-134a"),
    ({"type": "correct", "mass": "-3 g"}, "/reason", "add"),
    ({"type": "correct", "mass": "-3 g", "reason": "  "}, "/reason", "1 character"),
    ({"type": "mass_step", "was": "magic"}, "/was", "'handling'"),
    ({"type": "particulars"}, "/technician", "at least one field"),
    ({"type": "particulars", "origin": "found"}, "/origin", "'reclaimed'"),
    ({"type": "particulars", "company": " "}, "/company", "1 character"),
    ({"type": "note", "text": "x", "a/b~c": 1}, "/a~1b~0c", "leave it out"),
    (json.loads(JOB) | {"pump": {"ultimate": "1 bar"}}, "/pump/ultimate", "15 micron"),
    (json.loads(JOB) | {"pump": {"speed": "0 L/min"}}, "/pump/speed", "more than 0"),
    (json.loads(JOB) | {"pump": {"hose": {"length": "1.5 m", "bore": "8 m"}}}, "/pump/hose/bore", "4.8 mm"),
    ({"type": "note", "text": "\ud800"}, "/text", "whole characters"),
    ({"type": "note", "text": "x", 5: 1}, "/5", "strings"),
    ({"type": "stop_point.shelve", "stop_point": "x", "duration": "2 days", "reason": "z"}, "/duration", "86400 s"),
]


@pytest.mark.parametrize(("raw", "field", "accepted"), REFUSED, ids=lambda value: str(value)[-48:])
def test_every_refusal_names_the_field_and_what_would_do(raw: object, field: str, accepted: str) -> None:
    with pytest.raises(IntakeError) as caught:
        from_action(raw, 9.0, "/3/vs")
    error = caught.value
    assert error.field == f"/3/vs{field}"
    assert error.problem
    assert accepted in error.accepted


@pytest.mark.parametrize(("raw", "field", "accepted"), REFUSED, ids=lambda value: str(value)[-48:])
def test_no_refusal_speaks_the_language_of_the_validator(raw: object, field: str, accepted: str) -> None:
    with pytest.raises(IntakeError) as caught:
        from_action(raw, 9.0)
    message = str(caught.value)
    assert field in message
    assert accepted in message
    for word in ("Input should", "instance of", "Model", "dictionary", "function-", "literal[", "{expected"):
        assert word not in message


scalars = (
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=6) | st.sampled_from(["1 g", "2 m"])
)
fields = st.sampled_from([
    "circuit", "aim", "hose", "scale", "gauge", "limits", "net", "net_kg", "mass", "mass_kg", "container", "draw",
    "valve", "open", "step", "text", "reason", "stop_point", "duration", "refrigerant", "charge_min", "charge_max",
    "class", "x",
])  # fmt: skip
values = st.recursive(scalars, lambda inner: st.lists(inner, max_size=2) | st.dictionaries(fields, inner, max_size=4))


@settings(max_examples=200, deadline=None)
@given(st.dictionaries(fields, values, max_size=5), st.sampled_from([*actions.TYPES, "x"]))
def test_any_object_is_an_event_or_a_refusal(raw: dict[str, object], kind: str) -> None:
    try:
        assert from_action({"type": kind, **raw}, 9.0).time_s == 9.0
    except IntakeError as error:
        assert error.field.startswith("/")  # noqa: PT017
        assert error.problem  # noqa: PT017 - both answers are right
        assert error.accepted  # noqa: PT017
