"""What the technician does, as JSON. One model an action; `type` tells them apart.

* Every quantity is a string with a unit under its short name ("net": "340 g") or a number in the SI unit under the
  name that carries the unit ("net_kg": 0.34). A number under the short name has no unit and is refused: 340 might be
  grams or kilograms. So is a quantity that is given twice.
* Unknown fields are refused, so that a slip of the pen is not lost.
"""

from __future__ import annotations

from typing import Annotated, Literal, Self, get_args

from pydantic import Field, TypeAdapter, model_validator

from fillmark.wire.models import FieldError, Line, Model, Name, Reason, Text, either
from fillmark.wire.quantities import MassKg, PressurePa, SignedMassKg, TimeS, VolumeM3
from fillmark.wire.setup import JobOpen

StepName = Literal["recovery", "pressure_test", "evacuation", "vacuum_hold", "charging", "performance_test"]
ValveName = Literal["low", "high", "container", "vacuum"]
Draw = Literal["vapour", "liquid"]


class JobClose(Model):
    """Close the job."""

    type: Literal["job.close"]


class StepBegin(Model):
    """Begin a step."""

    type: Literal["step.begin"]
    step: StepName
    reason: Text = ""
    target_abs_pa: PressurePa | None = either("target_abs", "pa", default=None)


class StepSkip(Model):
    """A step is left out, with the reason. It stays in the record."""

    type: Literal["step.skip"]
    step: StepName
    reason: Reason


class StepEnd(Model):
    """End the step in progress."""

    type: Literal["step.end"]


class ContainerMount(Model):
    """A container stands on the pan. `heel` is what cannot be drawn from it.

    A recovery cylinder takes refrigerant in; `water_capacity` is its volume as its shoulder states it.
    """

    type: Literal["container.mount"]
    container: Name
    use: Literal["charge", "recovery"] = "charge"
    draw: Draw = "vapour"
    refrigerant: Name | None = None
    net_kg: MassKg | None = either("net", "kg", default=None)
    gross_kg: MassKg | None = either("gross", "kg", default=None)
    tare_kg: MassKg | None = either("tare", "kg", default=None)
    heel_kg: MassKg = either("heel", "kg", default=0.0)
    volume_m3: VolumeM3 | None = either("volume", "m3", default=None)
    water_capacity_m3: VolumeM3 | None = either("water_capacity", "m3", default=None)

    @model_validator(mode="after")
    def _masses_agree(self) -> Self:
        if self.gross_kg is not None and self.tare_kg is not None:
            net = self.gross_kg - self.tare_kg
            if net < 0.0:
                raise FieldError("tare", "tare is above gross; the gross mass contains the tare")
            if self.net_kg is not None and abs(net - self.net_kg) > 0.01:
                raise FieldError("net", "gross less tare is not the net mass; weigh the container or leave one out")
        return self


class ContainerUnmount(Model):
    """The container is taken off the pan."""

    type: Literal["container.unmount"]


class Valve(Model):
    """A valve is opened or closed."""

    type: Literal["valve"]
    valve: ValveName
    open: bool


class Purge(Model):
    """The hose was purged into recovery; the mass is weighed when it is not given."""

    type: Literal["purge"]
    mass_kg: MassKg | None = either("mass", "kg", default=None)


class Engine(Model):
    """The engine (or the compressor of a stationary circuit) runs or stands."""

    type: Literal["engine"]
    running: bool


class Pump(Model):
    """The vacuum pump runs or stands."""

    type: Literal["pump"]
    running: bool


class Oil(Model):
    """Oil taken out of the circuit or put into it, by volume."""

    type: Literal["oil"]
    removed_m3: VolumeM3 | None = either("removed", "m3", default=None)
    added_m3: VolumeM3 | None = either("added", "m3", default=None)
    component: Name | None = None

    @model_validator(mode="after")
    def _one_of_both(self) -> Self:
        if (self.removed_m3 is None) == (self.added_m3 is None):
            raise FieldError("removed", 'oil is either removed or added; give one of both, such as "15 mL"')
        return self


class ComponentReplaced(Model):
    """A part was replaced; `oil` is what the service manual says the new one must be given."""

    type: Literal["component.replaced"]
    component: Name
    oil_m3: VolumeM3 | None = either("oil", "m3", default=None)


class HoseRecovered(Model):
    """What the hose held was recovered, weighed when `mass` is given."""

    type: Literal["hose.recovered"]
    mass_kg: MassKg | None = either("mass", "kg", default=None)


class MassStep(Model):
    """The answer to an unexplained step in mass: was it refrigerant that left, or handling of the pan?"""

    type: Literal["mass_step"]
    was: Literal["refrigerant", "handling"]


class Correct(Model):
    """A correction of the charged mass by the technician, with a reason. It stays in the record."""

    type: Literal["correct"]
    mass_kg: SignedMassKg = either("mass", "kg")
    reason: Reason


class StopPointAction(Model):
    """What is done to a stop point. `subject` tells apart several of one id, such as two stale channels."""

    type: Literal["stop_point.acknowledge", "stop_point.reset", "stop_point.unshelve"]
    stop_point: Name
    subject: str = ""


class StopPointShelve(Model):
    """Put a stop point aside for a while, with a reason."""

    type: Literal["stop_point.shelve"]
    stop_point: Name
    subject: str = ""
    duration_s: TimeS = either("duration", "s")
    reason: Reason


class Note(Model):
    """A remark for the record."""

    type: Literal["note"]
    text: Text


class Particulars(Model):
    """Who did it, for whom, to which equipment: what rules on refrigerants want recorded, as the user enters it.

    What is said later stands in place of what was said before, field by field. `origin` is of the refrigerant charged.
    """

    type: Literal["particulars"]
    technician: Line | None = None
    technician_certificate: Line | None = None
    company: Line | None = None
    company_address: Line | None = None
    company_certificate: Line | None = None
    operator: Line | None = None
    equipment: Line | None = None
    equipment_id: Line | None = None
    equipment_reading: Line | None = None
    origin: Literal["virgin", "recycled", "reclaimed"] | None = None
    origin_facility: Line | None = None
    disposal: Line | None = None

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if not self.model_dump(exclude={"type"}, exclude_none=True):
            raise FieldError("technician", "nothing is said; give at least one field, such as technician")
        return self


Action = Annotated[
    JobOpen
    | JobClose
    | StepBegin
    | StepSkip
    | StepEnd
    | ContainerMount
    | ContainerUnmount
    | Valve
    | Purge
    | Engine
    | Pump
    | Oil
    | ComponentReplaced
    | HoseRecovered
    | MassStep
    | Correct
    | StopPointAction
    | StopPointShelve
    | Note
    | Particulars,
    Field(discriminator="type"),
]

ACTION: TypeAdapter[Action] = TypeAdapter(Action)

TYPES: tuple[str, ...] = tuple(
    name for model in get_args(get_args(Action)[0]) for name in get_args(model.model_fields["type"].annotation)
)
"""All types of action."""
