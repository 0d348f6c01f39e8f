"""The stock as plain data: containers and what is left in each, in SI, unknown as None."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from fillmark.engine.containers import Container, u_of
from fillmark.engine.job import Job
from fillmark.stock.ledger import Holding, Jobs, Ledger, in_open_job, users
from fillmark.stock.moves import Move, left_of, moves_of

Plain = dict[str, Any]
OVERDRAWN_KG = 5e-3
"""More drawn than this beyond what a container held is said; below it, it is scatter. Common practice, no source."""


def stock_view(ledger: Ledger, jobs: Jobs) -> Plain:
    """All containers in the stock, and those that jobs used without the stock knowing them."""
    return {
        "containers": [container_view(one, jobs) for one in ledger.holdings if one.returned is None],
        "outside_stock": [
            {
                "job": job.id,
                "id": container.id,
                "use": "recovery" if container.recovers else "charge",
                "refrigerant": container.refrigerant,
                "circuit_refrigerant": job.course.setup.circuit.refrigerant.name,
                **_drawn(job, container),
            }
            for job, container in strangers(ledger, jobs)
        ],
    }


def container_view(holding: Holding, jobs: Jobs) -> Plain:
    """One container of the stock, present or returned."""
    said, moves = holding.purchase, moves_of(holding, jobs.values())
    left_kg, left_u_kg = left_of(moves)
    returned = holding.returned
    return {
        "id": holding.id,
        "use": said.use,
        "refrigerant": said.refrigerant,
        "left_kg": _rounded(left_kg),
        "left_u_kg": _rounded(left_u_kg),
        "net_kg": said.net_kg,
        "tare_kg": holding.tare_kg,
        "origin": said.origin,
        "supplier": said.supplier,
        "document": said.document,
        "since": holding.bought.at_s,
        "returned_at": None if returned is None else returned.at_s,
        "in_job": in_open_job(holding, jobs) if returned is None else None,
        "jobs": [job.id for job in users(holding, jobs.values())],
        "doubts": list(_doubts(holding, jobs, left_kg)),
    }


def history_view(holding: Holding, jobs: Jobs) -> Plain:
    """One container with all its moves."""
    return {
        **container_view(holding, jobs),
        "moves": [_move(move) for move in moves_of(holding, jobs.values())],
    }


def strangers(ledger: Ledger, jobs: Mapping[str, Job]) -> Iterator[tuple[Job, Container]]:
    """Containers of jobs that are none of the stock's."""
    known = {(job.id, one.id) for one in ledger.holdings for job in users(one, jobs.values())}
    for job in jobs.values():
        for container in job.course.containers.values():
            if (job.id, container.id) not in known:
                yield job, container


def _drawn(job: Job, container: Container) -> Plain:
    drawn, var = container.drawn(job.course.pan_of(container))
    return {
        "drawn_kg": _rounded(drawn),
        "drawn_u_kg": _rounded(u_of(var)),
        "left_kg": _rounded(container.left_kg(job.course.pan_of(container))),
    }


def _move(move: Move) -> Plain:
    return {
        "at": move.at_s,
        "kind": move.kind,
        "mass_kg": _rounded(move.mass_kg),
        "u_kg": _rounded(move.u_kg),
        "job": move.job,
        "entry": move.position,
        "note": move.note,
    }


def _doubts(holding: Holding, jobs: Jobs, left_kg: float) -> Iterator[str]:
    """What does not fit together, in sentences."""
    if left_kg < -OVERDRAWN_KG:
        yield f"{-left_kg * 1e3:.0f} g more left it than it held: weigh it, or look for another container of this name"
    said = holding.purchase.refrigerant
    for job in users(holding, jobs.values()):
        container, circuit = job.course.containers[holding.id], job.course.setup.circuit.refrigerant.name
        if said is not None and container.refrigerant not in {None, said}:
            yield f"it was bought as {said}, and {job.id} used it as {container.refrigerant}"
        if said is not None and not container.recovers and circuit != said:
            yield f"it holds {said}, and the circuit of {job.id} takes {circuit}"
        if container.recovers is not (holding.purchase.use == "recovery"):
            use = "recovery" if container.recovers else "charge"
            yield f"it was bought for {holding.purchase.use}, and {job.id} used it for {use}"


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 5) + 0.0
