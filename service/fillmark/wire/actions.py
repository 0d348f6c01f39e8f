"""What the technician does, as JSON. One model an action; `type` tells them apart.

* Every quantity is a string with a unit under its short name ("net": "340 g") or a number in the SI unit under the
  name that carries the unit ("net_kg": 0.34). A number under the short name has no unit and is refused: 340 might be
  grams or kilograms. So is a quantity that is given twice.
* Unknown fields are refused, so that a slip of the pen is not lost.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal, Self, get_args

from pydantic import (
    AliasChoices,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    StringConstraints,
    TypeAdapter,
    model_validator,
)

from fillmark.wire.quantities import (
    MASS,
    AltitudeM,
    BarometerPa,
    LengthM,
    MassKg,
    PressurePa,
    SignedMassKg,
    TemperatureK,
    TimeS,
    VolumeM3,
    parse,
)

Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=64)]
Text = Annotated[str, StringConstraints(strip_whitespace=True, max_length=2000)]
StepName = Literal["recovery", "pressure_test", "evacuation", "vacuum_hold", "charging", "performance_test"]
ValveName = Literal["low", "high", "container", "vacuum"]
Draw = Literal["vapour", "liquid"]
AimName = Literal["min", "mid", "max"]


class FieldError(ValueError):
    """A fault that several fields make together, laid to one of them. `field` is its short name."""

    def __init__(self, field: str, message: str) -> None:
        super().__init__(message)
        self.field = field


def _either(name: str, unit: str, **more: Any) -> Any:  # noqa: ANN401 - pydantic's Field is typed so
    return Field(validation_alias=AliasChoices(name, f"{name}_{unit}"), serialization_alias=f"{name}_{unit}", **more)


class Model(BaseModel):
    """Strict about names, frozen."""

    model_config = ConfigDict(extra="forbid", frozen=True, populate_by_name=True)

    @model_validator(mode="before")
    @classmethod
    def _says_each_unit_once(cls, raw: object) -> object:
        for field in cls.model_fields.values():
            if not isinstance(raw, dict) or not isinstance(field.validation_alias, AliasChoices):
                continue
            short, long = map(str, field.validation_alias.choices)
            if short in raw and long in raw:
                raise FieldError(short, f"it is given twice, also as {long}; leave one of them out")
            value = raw.get(short)
            if isinstance(value, (int, float)) and not isinstance(value, bool):
                raise FieldError(
                    short, f"the number has no unit; write a string with a unit, or the SI number as {long}"
                )
        return raw


class CircuitModel(Model):
    """The circuit as the label under the bonnet states it."""

    refrigerant: Name
    charge_min_kg: MassKg = _either("charge_min", "kg")
    charge_max_kg: MassKg = _either("charge_max", "kg")
    volume_m3: VolumeM3 | None = _either("volume", "m3", default=None)

    @model_validator(mode="after")
    def _window_is_a_window(self) -> Self:
        if self.charge_min_kg > self.charge_max_kg:
            raise FieldError(
                "charge_min", "charge_min is above charge_max; give the smaller mass of the label as charge_min"
            )
        if self.charge_max_kg == 0.0:
            raise FieldError("charge_max", "charge_max is zero; give the charge that the label states")
        if self.volume_m3 == 0.0:
            raise FieldError("volume", "the volume is zero; leave it out when it is not known")
        return self


class HoseModel(Model):
    """The hose between container and circuit."""

    length_m: LengthM = _either("length", "m")
    bore_m: LengthM = _either("bore", "m")
    shutoff: bool = False

    @model_validator(mode="after")
    def _is_a_hose(self) -> Self:
        for name, size_m, most_m in (("length", self.length_m, 50.0), ("bore", self.bore_m, 0.05)):
            if not 0.0 < size_m < most_m:
                raise FieldError(
                    name, f'this is no service hose: {name} {size_m:g} m; give length and bore as "1.8 m" and "4.8 mm"'
                )
        return self


class ScaleModel(Model):
    """The scale: its step, and what else its plate says."""

    resolution_kg: MassKg = _either("resolution", "kg", gt=0.0)
    accuracy_class: Literal["I", "II", "III", "IIII"] | None = Field(default=None, alias="class")
    capacity_kg: MassKg | None = _either("capacity", "kg", default=None)
    delay_s: TimeS | None = _either("delay", "s", default=None)


class LimitsModel(Model):
    """Limits that the user takes from label or service manual. Pressures are absolute."""

    high_pressure_abs_pa: PressurePa | None = _either("high_pressure_abs", "pa", default=None)
    low_pressure_abs_pa: PressurePa | None = _either("low_pressure_abs", "pa", default=None)
    container_temperature_k: TemperatureK | None = _either("container_temperature", "k", default=None)


def _read_aim(value: object) -> object:
    if isinstance(value, str) and value in get_args(AimName):
        return value
    try:
        return parse(value, MASS, least=0.0)
    except ValueError as error:
        problem = str(error).partition(";")[0] if isinstance(value, str) else "it is neither a name nor a mass"
        raise ValueError(f'{problem}; give "min", "mid", "max" or a mass such as "495 g"') from error


def _read_gauge(value: object) -> object:
    if isinstance(value, bool) or (isinstance(value, (list, tuple)) and all(isinstance(name, str) for name in value)):
        return value
    raise ValueError('it does not say which pressures are gauge; give true, false or a list such as ["low/pressure"]')


class JobOpen(Model):
    """Open a job on one circuit."""

    type: Literal["job.open"]
    circuit: CircuitModel
    aim: Annotated[
        AimName | float, BeforeValidator(_read_aim), Field(validation_alias=AliasChoices("aim", "aim_kg"))
    ] = "mid"
    hose: HoseModel | None = None
    scale: ScaleModel
    limits: LimitsModel = LimitsModel()
    reaction_time_s: TimeS | None = _either("reaction_time", "s", default=None)
    altitude_m: AltitudeM | None = _either("altitude", "m", default=None)
    barometer_pa: BarometerPa | None = _either("barometer", "pa", default=None)
    gauge: Annotated[bool | tuple[Name, ...], BeforeValidator(_read_gauge)] = False
    technician: Name | None = None
    note: Text = ""

    @model_validator(mode="after")
    def _aim_is_in_the_window(self) -> Self:
        circuit = self.circuit
        if not isinstance(self.aim, str) and not circuit.charge_min_kg <= self.aim <= circuit.charge_max_kg:
            raise FieldError(
                "aim",
                f'the aim {self.aim:g} kg lies outside the window; give "min", "mid", "max" or a mass from '
                f"{circuit.charge_min_kg:g} to {circuit.charge_max_kg:g} kg",
            )
        return self


class JobClose(Model):
    """Close the job."""

    type: Literal["job.close"]


class StepBegin(Model):
    """Begin a step."""

    type: Literal["step.begin"]
    step: StepName
    reason: Text = ""


class StepEnd(Model):
    """End the step in progress."""

    type: Literal["step.end"]


class ContainerMount(Model):
    """A container stands on the pan. `heel` is what cannot be drawn from it."""

    type: Literal["container.mount"]
    container: Name
    draw: Draw = "vapour"
    refrigerant: Name | None = None
    net_kg: MassKg | None = _either("net", "kg", default=None)
    gross_kg: MassKg | None = _either("gross", "kg", default=None)
    tare_kg: MassKg | None = _either("tare", "kg", default=None)
    heel_kg: MassKg = _either("heel", "kg", default=0.0)
    volume_m3: VolumeM3 | None = _either("volume", "m3", default=None)

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
    mass_kg: MassKg | None = _either("mass", "kg", default=None)


class Engine(Model):
    """The engine (or the compressor of a stationary circuit) runs or stands."""

    type: Literal["engine"]
    running: bool


class HoseRecovered(Model):
    """What the hose held was recovered, weighed when `mass` is given."""

    type: Literal["hose.recovered"]
    mass_kg: MassKg | None = _either("mass", "kg", default=None)


class MassStep(Model):
    """The answer to an unexplained step in mass: was it refrigerant that left, or handling of the pan?"""

    type: Literal["mass_step"]
    was: Literal["refrigerant", "handling"]


class Correct(Model):
    """A correction of the charged mass by the technician, with a reason. It stays in the record."""

    type: Literal["correct"]
    mass_kg: SignedMassKg = _either("mass", "kg")
    reason: Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=2000)]


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
    duration_s: TimeS = _either("duration", "s")
    reason: Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=2000)]


class Note(Model):
    """A remark for the record."""

    type: Literal["note"]
    text: Text


Action = Annotated[
    JobOpen
    | JobClose
    | StepBegin
    | StepEnd
    | ContainerMount
    | ContainerUnmount
    | Valve
    | Purge
    | Engine
    | HoseRecovered
    | MassStep
    | Correct
    | StopPointAction
    | StopPointShelve
    | Note,
    Field(discriminator="type"),
]

ACTION: TypeAdapter[Action] = TypeAdapter(Action)

TYPES: tuple[str, ...] = tuple(
    name for model in get_args(get_args(Action)[0]) for name in get_args(model.model_fields["type"].annotation)
)
"""All types of action."""
