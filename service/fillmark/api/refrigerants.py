"""Refrigerants: which there are, what to mind, and their saturation."""

from __future__ import annotations

import re
from typing import Annotated

from fastapi import APIRouter, Query, Response

from fillmark.api import documents, schemas
from fillmark.api.answers import answer
from fillmark.api.problems import ProblemError
from fillmark.refrigerants import facade
from fillmark.refrigerants.facade import RefrigerantModel
from fillmark.refrigerants.safety import safety
from fillmark.wire import quantities
from fillmark.wire.quantities import Dimension

router = APIRouter(tags=["refrigerants"])
_NUMBER = re.compile(r"\s*[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?\s*")


@router.get("/v1/refrigerants", summary="List refrigerants", response_model=schemas.RefrigerantList)
def list_refrigerants() -> Response:
    """All refrigerants that are known, with their safety class."""
    rows = []
    for name in facade.names():
        known, model = safety(name), facade.get(name)
        rows.append(
            {
                "name": name,
                "safety_class": str(known.safety_class),
                "flammable": known.safety_class.flammable,
                "blend": model.blend,
                "zeotropic": model.zeotropic,
            }
        )
    return answer({"refrigerants": rows})


@router.get(
    "/v1/refrigerants/{name}",
    summary="Read a refrigerant",
    response_model=schemas.RefrigerantView,
    responses=schemas.problems(404),
)
def read_refrigerant(name: str) -> Response:
    """Safety class, global warming potential with its sources, cautions, and where saturation is known."""
    model = _model(name)
    known = safety(model.name)
    gwps = [
        {"value": g.value, "below": g.below, "edition": g.edition, "source": g.source, "checked": str(g.checked)}
        for g in known.gwp100
    ]
    return answer(
        {
            "name": model.name,
            "blend": model.blend,
            "zeotropic": model.zeotropic,
            "safety": documents.safety_document(known),
            "gwp100": gwps,
            "critical_temperature_k": model.critical_temperature_k,
            "saturation_from_k": model.saturation_temperature_min_k,
            "saturation_to_k": model.saturation_temperature_max_k,
            "coolprop": facade.coolprop_version(),
        }
    )


@router.get(
    "/v1/refrigerants/{name}/saturation",
    summary="Saturation",
    response_model=schemas.Saturation,
    responses=schemas.problems(404, 422),
)
def saturation(
    name: str,
    temperature: Annotated[str | None, Query(description='K as a number, or with a unit: "25 °C".')] = None,
    pressure: Annotated[str | None, Query(description='Absolute. Pa as a number, or with a unit: "5.7 bar".')] = None,
) -> Response:
    """Bubble point (liquid begins to boil) and dew point (vapour begins to condense), kept apart.

    At one temperature or at one absolute pressure. The liquid's density belongs to the bubble point, the vapour's to
    the dew point.
    """
    model = _model(name)
    try:
        if temperature is not None and pressure is None:
            kelvin = _quantity("temperature", temperature, quantities.TEMPERATURE)
            bubble = _bubble(model, kelvin, model.bubble_pressure_pa(kelvin))
            dew = _dew(model, kelvin, model.dew_pressure_pa(kelvin))
        elif pressure is not None and temperature is None:
            pascal = _quantity("pressure", pressure, quantities.PRESSURE)
            bubble = _bubble(model, model.bubble_temperature_k(pascal), pascal)
            dew = _dew(model, model.dew_temperature_k(pascal), pascal)
        else:
            accepted = "?temperature=25 °C or ?pressure=5.7 bar"
            raise ProblemError("invalid-field", "give one of temperature and pressure", accepted=accepted)
    except facade.OutOfRangeError as error:
        raise ProblemError("property-out-of-range", str(error)) from error
    document = {"refrigerant": model.name, "bubble": bubble, "dew": dew, "zeotropic": model.zeotropic}
    return answer({**document, "coolprop": facade.coolprop_version()})


def _model(name: str) -> RefrigerantModel:
    try:
        return facade.get(name)
    except facade.UnknownRefrigerantError as error:
        raise ProblemError("unknown-refrigerant", str(error), accepted=", ".join(facade.names())) from error


def _quantity(field: str, text: str, dimension: Dimension) -> float:
    value = float(text) if _NUMBER.fullmatch(text) else text
    try:
        return quantities.parse(value, dimension, least=0.0)
    except ValueError as error:
        problem, _, accepted = str(error).partition("; ")
        raise ProblemError("invalid-field", problem, field=f"/query/{field}", accepted=accepted) from error


def _bubble(model: RefrigerantModel, kelvin: float, pascal: float) -> dict[str, float]:
    density = model.saturated_liquid_density_kg_m3(kelvin)
    return {"temperature_k": kelvin, "pressure_abs_pa": pascal, "liquid_density_kg_m3": density}


def _dew(model: RefrigerantModel, kelvin: float, pascal: float) -> dict[str, float]:
    density = model.saturated_vapour_density_kg_m3(kelvin)
    return {"temperature_k": kelvin, "pressure_abs_pa": pascal, "vapour_density_kg_m3": density}
