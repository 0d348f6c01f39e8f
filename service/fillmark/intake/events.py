"""From the wire to the engine: resolved SenML records become events, JSON actions become events.

The engine knows neither JSON nor names of refrigerants; here they end.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from pydantic import ValidationError

from fillmark.engine import events
from fillmark.engine.setup import Aim, Circuit, Hose, Limits, Scale, Setup
from fillmark.refrigerants import facade
from fillmark.wire import actions, channels
from fillmark.wire.senml import Record, SenmlError


class IntakeError(ValueError):
    """Something that cannot be taken in. `field` is a JSON pointer, `accepted` says what would do."""

    def __init__(self, field: str, problem: str, accepted: str = "") -> None:
        super().__init__(f"{field or 'body'}: {problem}" + (f"; {accepted}" if accepted else ""))
        self.field = field
        self.problem = problem
        self.accepted = accepted


def from_records(records: Sequence[Record]) -> dict[str, tuple[events.Event, ...]]:
    """Events by bay, in the order of the records. Values of kinds the engine does not know are left to the log.

    Raises:
        IntakeError: a record that no sensor can have sent, or an action that cannot be read.
    """
    by_bay: dict[str, list[events.Event]] = {}
    for index, record in enumerate(records):
        try:
            channel = channels.parse(record.name)
            event = _event(channel, channels.normalise(record, f"/{index}"), f"/{index}")
        except SenmlError as error:
            raise IntakeError(error.field, error.problem, error.accepted) from error
        found = by_bay.setdefault(channel.bay, [])
        if event is not None:
            found.append(event)
    return {bay: tuple(found) for bay, found in by_bay.items()}


def _event(channel: channels.Channel, record: Record, field: str) -> events.Event | None:
    if channel.local == channels.ACTION:
        if record.text is None:
            raise IntakeError(f"{field}/vs", f"{record.name} carries an action as JSON text", 'send it in "vs"')
        return from_action(_json(record.text, field), record.time_s, f"{field}/vs")
    if channel.quantity not in channels.QUANTITIES:
        return None
    if record.flag is not None:
        return events.Reading(record.time_s, channel.local, float(record.flag))
    if record.value is None:
        return None
    return events.Reading(record.time_s, channel.local, record.value)


def _json(text: str, field: str) -> object:
    try:
        return json.loads(text)
    except (ValueError, RecursionError) as error:
        raise IntakeError(f"{field}/vs", f"the action is not JSON ({error})", 'send {"type": ...}') from error


def from_action(raw: object, time_s: float, field: str = "") -> events.Event:
    """One action as an event at `time_s`.

    Raises:
        IntakeError: naming the field at fault.
    """
    try:
        model = actions.ACTION.validate_python(raw)
    except ValidationError as error:
        raise _intake_error(error, field) from error
    return _MAKERS[type(model)](model, time_s)


def _intake_error(error: ValidationError, field: str) -> IntakeError:
    """The first fault, with the field as the sender wrote it."""
    first = error.errors(include_url=False, include_context=False)[0]
    location = [str(part) for part in first["loc"]]
    if location and location[0] in actions.TYPES:
        location = location[1:]
    location = [part for part in location if not part.startswith(("function-", "literal[", "constrained-"))]
    message = first["msg"].removeprefix("Value error, ")
    if first["type"] == "union_tag_invalid":
        return IntakeError(f"{field}/type", "no such action", f"type is one of {', '.join(actions.TYPES)}")
    if first["type"] == "union_tag_not_found":
        return IntakeError(f"{field}/type", "an action has a type", f"type is one of {', '.join(actions.TYPES)}")
    if first["type"] == "extra_forbidden":
        return IntakeError("/".join([field, *location]), "no such field", "leave it out, or correct its name")
    problem, _, accepted = message.partition("; ")
    return IntakeError("/".join([field, *location]), problem, accepted)


def setup_from(model: actions.JobOpen) -> Setup:
    """Everything declared at the opening of a job.

    Raises:
        IntakeError: the refrigerant is unknown.
    """
    circuit = model.circuit
    try:
        refrigerant = facade.get(circuit.refrigerant)
    except facade.UnknownRefrigerantError as error:
        raise IntakeError("/circuit/refrigerant", str(error)) from error
    hose = model.hose
    return Setup(
        circuit=Circuit(refrigerant, circuit.charge_min_kg, circuit.charge_max_kg, circuit.volume_m3),
        scale=Scale(
            model.scale.resolution_kg, model.scale.accuracy_class, model.scale.capacity_kg, model.scale.delay_s
        ),
        aim=Aim(model.aim) if isinstance(model.aim, str) else model.aim,
        hose=None if hose is None else Hose(hose.length_m, hose.bore_m, hose.shutoff),
        limits=Limits(
            model.limits.high_pressure_abs_pa, model.limits.low_pressure_abs_pa, model.limits.container_temperature_k
        ),
        reaction_time_s=model.reaction_time_s,
        altitude_m=model.altitude_m,
        barometer_pa=model.barometer_pa,
        gauge=frozenset() if isinstance(model.gauge, bool) else frozenset(model.gauge),
        gauge_all=model.gauge is True,
        technician=model.technician,
        note=model.note,
    )


def _mount(model: actions.ContainerMount, time_s: float) -> events.Event:
    refrigerant = model.refrigerant
    if refrigerant is not None:
        try:
            refrigerant = facade.get(refrigerant).name
        except facade.UnknownRefrigerantError as error:
            raise IntakeError("/refrigerant", str(error)) from error
    return events.MountContainer(
        time_s,
        model.container,
        model.draw,
        refrigerant,
        model.net_kg,
        model.gross_kg,
        model.tare_kg,
        model.heel_kg,
        model.volume_m3,
    )


def _treat(model: actions.StopPointAction | actions.StopPointShelve, time_s: float) -> events.Event:
    treatment: Any = model.type.removeprefix("stop_point.")
    duration = model.duration_s if isinstance(model, actions.StopPointShelve) else 0.0
    reason = model.reason if isinstance(model, actions.StopPointShelve) else ""
    return events.TreatStopPoint(time_s, treatment, model.stop_point, model.subject, duration, reason)


_MAKERS: Mapping[type, Callable[[Any, float], events.Event]] = {
    actions.JobOpen: lambda m, t: events.OpenJob(t, setup_from(m)),
    actions.JobClose: lambda _, t: events.CloseJob(t),
    actions.StepBegin: lambda m, t: events.BeginStep(t, m.step, m.reason),
    actions.StepEnd: lambda _, t: events.EndStep(t),
    actions.ContainerMount: _mount,
    actions.ContainerUnmount: lambda _, t: events.UnmountContainer(t),
    actions.Valve: lambda m, t: events.SetValve(t, m.valve, m.open),
    actions.Purge: lambda m, t: events.PurgeHose(t, m.mass_kg),
    actions.Engine: lambda m, t: events.SetEngine(t, m.running),
    actions.HoseRecovered: lambda m, t: events.RecoverHose(t, m.mass_kg),
    actions.MassStep: lambda m, t: events.ExplainStep(t, m.was),
    actions.Correct: lambda m, t: events.CorrectCharge(t, m.mass_kg, m.reason),
    actions.StopPointAction: _treat,
    actions.StopPointShelve: _treat,
    actions.Note: lambda m, t: events.Note(t, m.text),
}
