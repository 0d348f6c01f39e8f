"""From the wire to the engine: resolved SenML records become events, JSON actions become events.

The engine knows neither JSON nor names of refrigerants; here they end.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from pydantic import ValidationError

from fillmark.engine import events
from fillmark.engine.reaction import Reaction
from fillmark.engine.setup import Aim, Circuit, Hose, Limits, Scale, Setup, VacuumGauge, VacuumPump
from fillmark.refrigerants import facade
from fillmark.wire import actions, channels
from fillmark.wire.models import FieldError
from fillmark.wire.senml import Record, SenmlError, pointer_to
from fillmark.wire.setup import JobOpen, PumpModel

GAUGE_CHANNELS = frozenset({"low/pressure", "high/pressure", "vacuum/pressure"})
"""Channels that may read gauge pressure, by their names within the bay."""


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
            channel = channels.parse(record.name, f"/{index}")
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
    value = record.value if record.flag is None else float(record.flag)
    if value is None:
        return None
    # One text for all readings of a channel: each record brings its own, which costs more than the reading itself.
    return events.Reading(record.time_s, sys.intern(channel.local), value)


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
        raise intake_error(error, raw, field, actions.TYPES) from error
    try:
        return _MAKERS[type(model)](model, time_s)
    except IntakeError as error:
        raise IntakeError(field + error.field, error.problem, error.accepted) from error


_SENTENCES: Mapping[str, tuple[str, str]] = {
    "missing": ("it is missing", "add it"),
    "extra_forbidden": ("no such field", "leave it out, or correct its name"),
    "union_tag_invalid": ("no such action", "type is one of {types}"),
    "union_tag_not_found": ("an action has a type", "type is one of {types}"),
    "model_type": ("it is no JSON object", 'send {{"name": value, …}}'),
    "model_attributes_type": ("an action is a JSON object", 'send {{"type": …}}'),
    "literal_error": ("no such choice", "give one of {expected}"),
    "string_type": ("it is no text", "send a string"),
    "string_unicode": ("it has half of a character that takes two", "send whole characters"),
    "string_too_short": ("it is empty", "give at least {min_length} character"),
    "string_too_long": ("it is too long", "give at most {max_length} characters"),
    "bool_type": ("it is neither true nor false", "send true or false"),
    "bool_parsing": ("it is neither true nor false", "send true or false"),
    "int_type": ("it is no whole number", "send one such as 12"),
    "greater_than": ("it is too small", "give more than {gt:g}"),
    "invalid_key": ("a field's name is no text", "send names as strings"),
}
"""What is said of a fault that pydantic finds by itself: the problem and what would do."""


def intake_error(error: ValidationError, raw: object, field: str, types: Sequence[str]) -> IntakeError:
    """The first fault, with the field as the sender wrote it. `types` are those that there are."""
    first = error.errors(include_url=False)[0]
    context = {**first.get("ctx", {}), "types": ", ".join(types)}
    location = [*first["loc"][1:]]
    cause = context.get("error")
    if isinstance(cause, FieldError):
        location.append(cause.field)
    if first["type"].startswith("union_tag"):
        location = ["type"]
    pointer = _pointer(raw, location, field)
    if first["type"] in _SENTENCES:
        problem, accepted = _SENTENCES[first["type"]]
        return IntakeError(pointer, problem, accepted.format_map(context))
    problem, _, accepted = str(cause or first["msg"]).partition("; ")
    return IntakeError(pointer, problem, accepted)


def _pointer(raw: object, location: Sequence[int | str], pointer: str) -> str:
    """The JSON pointer of a location, with the name under which the sender gave the quantity: net or net_kg."""
    here = raw
    for part in location:
        known = here if isinstance(here, Mapping) else {}
        long = next((name for name in known if str(name).rpartition("_")[0] == part), part)
        name = part if part in known else long
        pointer, here = pointer_to(pointer, name), known.get(name)
    return pointer


def setup_from(model: JobOpen) -> Setup:
    """Everything declared at the opening of a job.

    Raises:
        IntakeError: the refrigerant is unknown.
    """
    circuit = model.circuit
    try:
        refrigerant = facade.get(circuit.refrigerant)
    except facade.UnknownRefrigerantError as error:
        raise unknown_refrigerant("/circuit/refrigerant", error) from error
    if not isinstance(model.gauge, bool):
        strange = sorted(set(model.gauge) - GAUGE_CHANNELS)
        if strange:
            accepted = f"name some of {', '.join(sorted(GAUGE_CHANNELS))}, or say true for all"
            raise IntakeError("/gauge", f"{strange[0]!r} is no pressure channel that can read gauge pressure", accepted)
    hose, gauge, learnt = model.hose, model.vacuum_gauge, model.reaction_learnt
    return Setup(
        circuit=Circuit(
            refrigerant,
            circuit.charge_min_kg + circuit.line_extra_kg,
            circuit.charge_max_kg + circuit.line_extra_kg,
            circuit.volume_m3,
            circuit.line_extra_kg,
            circuit.kind == "stationary",
        ),
        scale=Scale(
            model.scale.resolution_kg,
            model.scale.accuracy_class,
            model.scale.capacity_kg,
            model.scale.delay_s,
            model.scale.sheltered,
        ),
        aim=Aim(model.aim) if isinstance(model.aim, str) else model.aim,
        hose=None if hose is None else Hose(hose.length_m, hose.bore_m, hose.shutoff),
        limits=Limits(**model.limits.model_dump()),
        reaction_time_s=model.reaction_time_s,
        reaction_learnt=None if learnt is None else Reaction.known(learnt.time_s, learnt.u_s, learnt.closings),
        altitude_m=model.altitude_m,
        barometer_pa=model.barometer_pa,
        gauge=frozenset() if isinstance(model.gauge, bool) else frozenset(model.gauge),
        gauge_all=model.gauge is True,
        vacuum_gauge=None if gauge is None else VacuumGauge(gauge.resolution_pa, gauge.kind == "compound"),
        pump=_pump(model.pump),
        technician=model.technician,
        note=model.note,
    )


def _pump(model: PumpModel | None) -> VacuumPump:
    if model is None:
        return VacuumPump()
    hose = None if model.hose is None else Hose(model.hose.length_m, model.hose.bore_m)
    return VacuumPump(model.speed_m3_s, model.ultimate_pa, hose)


def unknown_refrigerant(field: str, error: facade.UnknownRefrigerantError) -> IntakeError:
    """The fault of a name that stands for no refrigerant."""
    problem, _, known = str(error).rstrip(".").partition(" Accepted: ")
    return IntakeError(field, problem.rstrip("."), f"give one of {known}")


def _mount(model: actions.ContainerMount, time_s: float) -> events.Event:
    refrigerant = model.refrigerant
    if refrigerant is not None:
        try:
            refrigerant = facade.get(refrigerant).name
        except facade.UnknownRefrigerantError as error:
            raise unknown_refrigerant("/refrigerant", error) from error
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
        recovers=model.use == "recovery",
        water_capacity_m3=model.water_capacity_m3,
    )


def _oil(model: actions.Oil, time_s: float) -> events.Event:
    volume = model.added_m3 if model.removed_m3 is None else -model.removed_m3
    return events.MoveOil(time_s, volume or 0.0, model.component)


def _treat(model: actions.StopPointAction | actions.StopPointShelve, time_s: float) -> events.Event:
    treatment: Any = model.type.removeprefix("stop_point.")
    duration = model.duration_s if isinstance(model, actions.StopPointShelve) else 0.0
    reason = model.reason if isinstance(model, actions.StopPointShelve) else ""
    return events.TreatStopPoint(time_s, treatment, model.stop_point, model.subject, duration, reason)


_MAKERS: Mapping[type, Callable[[Any, float], events.Event]] = {
    JobOpen: lambda m, t: events.OpenJob(t, setup_from(m)),
    actions.JobClose: lambda _, t: events.CloseJob(t),
    actions.StepBegin: lambda m, t: events.BeginStep(t, m.step, m.reason, m.target_abs_pa),
    actions.StepSkip: lambda m, t: events.SkipStep(t, m.step, m.reason),
    actions.StepEnd: lambda _, t: events.EndStep(t),
    actions.ContainerMount: _mount,
    actions.ContainerUnmount: lambda _, t: events.UnmountContainer(t),
    actions.Valve: lambda m, t: events.SetValve(t, m.valve, m.open),
    actions.Purge: lambda m, t: events.PurgeHose(t, m.mass_kg),
    actions.Engine: lambda m, t: events.SetEngine(t, m.running),
    actions.Pump: lambda m, t: events.SetPump(t, m.running),
    actions.Oil: _oil,
    actions.ComponentReplaced: lambda m, t: events.ReplaceComponent(t, m.component, m.oil_m3),
    actions.HoseRecovered: lambda m, t: events.RecoverHose(t, m.mass_kg),
    actions.MassStep: lambda m, t: events.ExplainStep(t, m.was),
    actions.Correct: lambda m, t: events.CorrectCharge(t, m.mass_kg, m.reason),
    actions.StopPointAction: _treat,
    actions.StopPointShelve: _treat,
    actions.Note: lambda m, t: events.Note(t, m.text),
    actions.Particulars: lambda m, t: events.StateParticulars(t, m.model_dump(exclude={"type"}, exclude_none=True)),
}
