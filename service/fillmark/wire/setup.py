"""What is declared when a job is opened, as JSON: circuit, aim, hose, scale, gauge, limits."""

from __future__ import annotations

from typing import Annotated, Literal, Self, get_args

from pydantic import AliasChoices, BeforeValidator, Field, model_validator

from fillmark.wire.models import FieldError, Model, Name, Text, either
from fillmark.wire.quantities import (
    MASS,
    AltitudeM,
    BarometerPa,
    LengthM,
    LinearMassKgM,
    MassKg,
    PressurePa,
    TemperatureK,
    TimeS,
    VolumeFlowM3S,
    VolumeM3,
    parse,
)

WORST_PUMP_PA = 20e3
"""A pump that ends above it draws no vacuum that counts here. Common practice, no source."""

LEAST_STEPS = 100
"""No class of scale has fewer steps (OIML R 76-1:2006 table 3, from memory)."""

AimName = Literal["min", "mid", "max"]


class LineModel(Model):
    """The line set of a stationary circuit: beyond the length that the factory charge includes, every metre adds."""

    length_m: LengthM = either("length", "m")
    included_m: LengthM = either("included", "m")
    rate_kg_m: LinearMassKgM = either("rate", "kg_m")


class CircuitModel(Model):
    """The circuit as its label states it. A stationary circuit may say what its line set adds to the factory charge."""

    refrigerant: Name
    charge_min_kg: MassKg = either("charge_min", "kg")
    charge_max_kg: MassKg = either("charge_max", "kg")
    volume_m3: VolumeM3 | None = either("volume", "m3", default=None)
    kind: Literal["vehicle", "stationary"] = "vehicle"
    line: LineModel | None = None

    @property
    def line_extra_kg(self) -> float:
        """What the line set adds to the factory charge, kg."""
        return 0.0 if self.line is None else self.line.rate_kg_m * max(self.line.length_m - self.line.included_m, 0.0)

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
        if self.line is not None and self.kind != "stationary":
            raise FieldError("line", 'a line set belongs to a stationary circuit; give "kind": "stationary" too')
        return self


class TubeModel(Model):
    """A hose by length and bore."""

    length_m: LengthM = either("length", "m")
    bore_m: LengthM = either("bore", "m")

    @model_validator(mode="after")
    def _is_a_hose(self) -> Self:
        for name, size_m, most_m in (("length", self.length_m, 50.0), ("bore", self.bore_m, 0.05)):
            if not 0.0 < size_m < most_m:
                raise FieldError(
                    name, f'this is no service hose: {name} {size_m:g} m; give length and bore as "1.8 m" and "4.8 mm"'
                )
        return self


class HoseModel(TubeModel):
    """The hose between container and circuit."""

    shutoff: bool = False


class ScaleModel(Model):
    """The scale: its step, what else its plate says, and whether sun and draught are kept off it."""

    resolution_kg: MassKg = either("resolution", "kg", gt=0.0)
    accuracy_class: Literal["I", "II", "III", "IIII"] | None = Field(default=None, alias="class")
    capacity_kg: MassKg | None = either("capacity", "kg", default=None)
    delay_s: TimeS | None = either("delay", "s", default=None)
    sheltered: bool = False

    @model_validator(mode="after")
    def _weighs_more_than_a_few_steps(self) -> Self:
        if self.capacity_kg is not None and self.capacity_kg < LEAST_STEPS * self.resolution_kg:
            raise FieldError(
                "capacity",
                f"the capacity of {self.capacity_kg:g} kg is less than {LEAST_STEPS} steps of the scale; "
                'give Max as its plate states it, such as "15 kg", or leave it out when it is not known',
            )
        return self


class LimitsModel(Model):
    """Limits that the user takes from label or service manual. Pressures are absolute."""

    high_pressure_abs_pa: PressurePa | None = either("high_pressure_abs", "pa", default=None)
    low_pressure_abs_pa: PressurePa | None = either("low_pressure_abs", "pa", default=None)
    container_temperature_k: TemperatureK | None = either("container_temperature", "k", default=None)
    test_pressure_abs_pa: PressurePa | None = either("test_pressure_abs", "pa", default=None)


class VacuumGaugeModel(Model):
    """The vacuum gauge: its step, and whether it reads absolute pressure or vacuum below the barometer."""

    resolution_pa: PressurePa = either("resolution", "pa", gt=0.0)
    kind: Literal["absolute", "compound"] = "absolute"


class PumpModel(Model):
    """The vacuum pump: speed and ultimate pressure (absolute) as its plate states them, and the hose before it."""

    speed_m3_s: VolumeFlowM3S | None = either("speed", "m3_s", gt=0.0, default=None)
    ultimate_pa: PressurePa | None = either("ultimate", "pa", default=None)
    hose: TubeModel | None = None

    @model_validator(mode="after")
    def _its_ultimate_is_a_vacuum(self) -> Self:
        if self.ultimate_pa is not None and self.ultimate_pa > WORST_PUMP_PA:
            raise FieldError(
                "ultimate",
                f"no vacuum pump ends at {self.ultimate_pa:g} Pa; give the absolute pressure that its plate states, "
                f'such as "2 Pa" or "15 micron", at most {WORST_PUMP_PA:g} Pa',
            )
        return self


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


class ReactionModel(Model):
    """What a technician's earlier closings say of the next: its mean, standard uncertainty, and how many they were."""

    time_s: TimeS = either("time", "s", gt=0.0)
    u_s: TimeS = either("u", "s")
    closings: int = Field(ge=1, strict=True)


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
    vacuum_gauge: VacuumGaugeModel | None = None
    pump: PumpModel | None = None
    reaction_time_s: TimeS | None = either("reaction_time", "s", default=None)
    reaction_learnt: ReactionModel | None = None
    altitude_m: AltitudeM | None = either("altitude", "m", default=None)
    barometer_pa: BarometerPa | None = either("barometer", "pa", default=None)
    gauge: Annotated[bool | tuple[Name, ...], BeforeValidator(_read_gauge)] = False
    technician: Name | None = None
    note: Text = ""

    @model_validator(mode="after")
    def _aim_is_in_the_window(self) -> Self:
        extra = self.circuit.line_extra_kg
        least, most = self.circuit.charge_min_kg + extra, self.circuit.charge_max_kg + extra
        if not isinstance(self.aim, str) and not least <= self.aim <= most:
            raise FieldError(
                "aim",
                f'the aim {self.aim:g} kg lies outside the window; give "min", "mid", "max" or a mass from '
                f"{least:g} to {most:g} kg",
            )
        return self
