"""A year of the stock by refrigerant: masses and CO2 equivalents by a stated edition of global warming potentials.

    opening + purchased + recovered + used + returned + difference = closing        (used and returned are negative)

Beside it stands what went past the stock: drawn from, or recovered into, containers that were never bought here; and
what jobs put into circuits. A year is one of UTC; a job counts where it was closed.
"""

from __future__ import annotations

import csv
import io
import math
from collections import defaultdict
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

from fillmark.engine.containers import u_of
from fillmark.engine.job import Job
from fillmark.refrigerants.gwp import Edition, gwp100
from fillmark.stock.ledger import Jobs, Ledger
from fillmark.stock.moves import left_of, moves_of
from fillmark.stock.view import strangers

Plain = dict[str, Any]

MOVED = ("purchased", "recovered", "used", "returned", "difference")
FLOWS = ("opening", *MOVED, "closing", "used_outside_stock", "recovered_outside_stock", "charged_into_circuits")
NOT_STATED = "not stated"
HEAD = ("year", "refrigerant", "flow", "mass_kg", "mass_u_kg", "gwp100", "gwp_is_upper_bound", "co2e_t", "gwp_edition",
        "gwp_source", "gwp_checked")  # fmt: skip

Sums = dict[str, dict[str, list[tuple[float, float | None]]]]


def summary(ledger: Ledger, jobs: Jobs, year: int, edition: Edition) -> Plain:
    """The year's rows. `mass_u_kg` is what the jobs' weighing leaves in doubt; labels and dealers state none."""
    begins, ends = _year(year)
    sums: Sums = defaultdict(lambda: {flow: [] for flow in FLOWS})
    for holding in ledger.holdings:
        mine = sums[holding.purchase.refrigerant or NOT_STATED]
        moves = moves_of(holding, jobs.values())
        mine["opening"].append(left_of(move for move in moves if move.at_s < begins))
        mine["closing"].append(left_of(move for move in moves if move.at_s < ends))
        for move in moves:
            if begins <= move.at_s < ends:
                mine[move.kind].append((move.mass_kg, move.u_kg))
    for name, flow, mass_kg, u_kg in _past_the_stock(ledger, jobs, begins, ends):
        sums[name][flow].append((mass_kg, u_kg))
    rows = [
        _row(name, flow, masses, edition)
        for name in sorted(sums)
        if any(mass_kg for masses in sums[name].values() for mass_kg, _ in masses)
        for flow, masses in sums[name].items()
    ]
    return {"year": year, "gwp_edition": str(edition), "gwp_edition_name": edition.full_name, "rows": rows}


def as_csv(document: Plain) -> bytes:
    """The rows as CSV (RFC 4180), UTF-8 with the mark that spreadsheets need; unknown is empty."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(HEAD)
    for row in document["rows"]:
        known = {**row, "year": document["year"], "gwp_edition": document["gwp_edition"]}
        writer.writerow([_cell(known[name]) for name in HEAD])
    return b"\xef\xbb\xbf" + out.getvalue().encode()


def _cell(value: object) -> object:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "" if value is None else value


def _year(year: int) -> tuple[float, float]:
    return tuple(datetime(one, 1, 1, tzinfo=UTC).timestamp() for one in (year, year + 1))  # type: ignore[return-value]


def _past_the_stock(
    ledger: Ledger, jobs: Jobs, begins: float, ends: float
) -> Iterator[tuple[str, str, float, float | None]]:
    """What jobs moved besides: by refrigerant, flow, mass and uncertainty.

    A container whose refrigerant nobody stated counts as that of the circuit.
    """
    for job in jobs.values():
        if begins <= _at_s(job) < ends and any(not one.recovers for one in job.course.containers.values()):
            charged = job.picture.charged
            yield job.course.setup.circuit.refrigerant.name, "charged_into_circuits", charged.mass_kg, charged.u_kg
    for job, container in strangers(ledger, jobs):
        if begins <= _at_s(job) < ends:
            drawn, var = container.drawn(job.course.pan_of(container))
            name = container.refrigerant or job.course.setup.circuit.refrigerant.name
            flow = "recovered_outside_stock" if container.recovers else "used_outside_stock"
            yield name, flow, drawn if container.recovers else -drawn, u_of(var)


def _at_s(job: Job) -> float:
    return job.now_s if job.closed_s is None else job.closed_s


def _row(name: str, flow: str, masses: list[tuple[float, float | None]], edition: Edition) -> Plain:
    mass_kg = round(sum(mass for mass, _ in masses), 5) + 0.0
    doubts = [u for _, u in masses if u is not None]
    figure = None if name == NOT_STATED else gwp100(name, edition)
    return {
        "refrigerant": name,
        "flow": flow,
        "mass_kg": mass_kg,
        "mass_u_kg": round(math.hypot(*doubts), 5) if doubts else None,
        "gwp100": None if figure is None else figure.value,
        "gwp_is_upper_bound": None if figure is None else figure.below,
        "co2e_t": None if figure is None else round(mass_kg * figure.value / 1e3, 6) + 0.0,
        "gwp_source": None if figure is None else figure.source,
        "gwp_checked": None if figure is None else str(figure.checked),
    }
