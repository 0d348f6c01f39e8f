"""A year of the stock by refrigerant, as JSON or CSV."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Path, Query, Response

from fillmark.api import schemas
from fillmark.api.answers import NO_STORE, answer
from fillmark.api.problems import ProblemError
from fillmark.api.service import Here, Service
from fillmark.refrigerants.gwp import Edition
from fillmark.stock.summary import as_csv, summary

router = APIRouter(tags=["stock"])
CSV = "text/csv"
Year = Annotated[int, Path(ge=1970, le=9000, description="A year of UTC.")]
Gwp = Annotated[str | None, Query(description="Edition of the global warming potentials: " + ", ".join(Edition) + ".")]


@router.get(
    "/v1/stock/{year}.csv",
    summary="Sum up a year as CSV",
    responses={**schemas.problems(422), 200: {"content": {CSV: {}}}},
)
async def year_as_csv(year: Year, here: Here, gwp: Gwp = None) -> Response:
    """The same rows as CSV, for a spreadsheet or an authority's form."""
    headers = {**NO_STORE, "Content-Disposition": f'attachment; filename="refrigerant-{year}.csv"'}
    return Response(as_csv(_summed(here, year, gwp)), headers=headers, media_type=CSV)


@router.get(
    "/v1/stock/{year}", summary="Sum up a year", response_model=schemas.YearSummary, responses=schemas.problems(422)
)
async def year_summary(year: Year, here: Here, gwp: Gwp = None) -> Response:
    """By refrigerant: opening, purchased, recovered, used, returned, difference, closing; in kg and t of CO2."""
    return answer(_summed(here, year, gwp))


def _summed(here: Service, year: int, gwp: str | None) -> dict[str, object]:
    if gwp not in set(Edition):
        accepted = "; ".join(f"{edition} = {edition.full_name}" for edition in Edition)
        problem = "say by which edition of global warming potentials CO2 equivalents are reckoned"
        raise ProblemError("invalid-field", problem, field="/query/gwp", accepted=accepted)
    keeper = here.keeper
    return summary(keeper.stock.ledger, keeper.workshop.jobs, year, Edition(gwp))
