"""GET /v1/jobs/{job}/cycle: the running circuit as points of a pressure-enthalpy picture."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

from fastapi import APIRouter, Response

from fillmark.api import schemas
from fillmark.api.answers import answer
from fillmark.api.service import Here
from fillmark.engine.picture import Picture
from fillmark.refrigerants import enthalpy, facade
from fillmark.refrigerants.base import RefrigerantModel
from fillmark.refrigerants.protocol import OutOfRangeError

router = APIRouter(tags=["jobs"])
Plain = dict[str, object]


@dataclass(frozen=True, slots=True)
class Place:
    """A place of the circuit, the channels that tell its state, and which side of the dome it lies on."""

    name: str
    pressure: str
    temperature: str
    j_kg: Callable[[RefrigerantModel, float, float], float]


PLACES = (
    Place("suction", "low/pressure", "suction/temperature", enthalpy.vapour_j_kg),
    Place("discharge", "high/pressure", "discharge/temperature", enthalpy.vapour_j_kg),
    Place("liquid", "high/pressure", "liquid/temperature", enthalpy.liquid_j_kg),
)


@router.get(
    "/v1/jobs/{job}/cycle",
    summary="The circuit in a pressure-enthalpy picture",
    response_model=schemas.CycleView,
    responses=schemas.problems(404),
)
def read_cycle(job: str, here: Here) -> Response:
    """The two-phase dome of the job's refrigerant, and the states that pressures and clamp probes give.

    A place is missing where one of its two readings is. `inlet` is the evaporator's inlet: it has the enthalpy of the
    liquid (throttling changes none) at the low side's pressure. 200 kJ/kg is saturated liquid at 0 °C.
    """
    shown = here.job(job).picture
    model = facade.get(shown.course.setup.circuit.refrigerant.name)
    return answer({"refrigerant": model.name, "dome": _dome(model), "points": points(shown, model)})


@cache
def _dome(model: RefrigerantModel) -> list[Plain]:
    return [
        {
            "temperature_k": round(one.temperature_k, 2),
            "bubble_abs_pa": round(one.bubble_abs_pa),
            "bubble_j_kg": round(one.bubble_j_kg),
            "dew_abs_pa": round(one.dew_abs_pa),
            "dew_j_kg": round(one.dew_j_kg),
        }
        for one in enthalpy.dome(model)
    ]


def points(shown: Picture, model: RefrigerantModel) -> list[Plain]:
    """The states that can be told, in the order of the flow."""
    found = {place.name: _point(place, shown, model) for place in PLACES}
    return [point for point in (*found.values(), _inlet(found["liquid"], shown)) if point is not None]


def _point(place: Place, shown: Picture, model: RefrigerantModel) -> Plain | None:
    course = shown.course
    pressure, kelvin = course.pressure_abs_pa(place.pressure), course.temperature_k(place.temperature)
    if pressure is None or kelvin is None:
        return None
    try:
        j_kg = place.j_kg(model, kelvin, pressure)
    except OutOfRangeError:
        return None
    row = {"name": place.name, "pressure_abs_pa": round(pressure, 1), "temperature_k": round(kelvin, 2)}
    return {**row, "enthalpy_j_kg": round(j_kg, 1), **_age((place.pressure, place.temperature), shown)}


def _inlet(liquid: Plain | None, shown: Picture) -> Plain | None:
    pressure = shown.course.pressure_abs_pa("low/pressure")
    if liquid is None or pressure is None:
        return None
    j_kg = liquid["enthalpy_j_kg"]
    if not isinstance(j_kg, float):
        return None
    row = {"name": "inlet", "pressure_abs_pa": round(pressure, 1), "temperature_k": None, "enthalpy_j_kg": j_kg}
    return {**row, **_age(("low/pressure", "high/pressure", "liquid/temperature"), shown)}


def _age(channels: tuple[str, ...], shown: Picture) -> Plain:
    return {
        "at": min(shown.course.latest[channel].time_s for channel in channels),
        "live": all(shown.live(channel) for channel in channels),
    }
