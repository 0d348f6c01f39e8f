"""Every mass that went into a container or out of it, dated and signed: the stock is their sum."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from fillmark.engine.containers import u_of
from fillmark.engine.job import Job
from fillmark.stock.ledger import Booked, Holding, users
from fillmark.wire.stock import Cancel, Purchase, Recovery, Return, Use, Weighing


@dataclass(frozen=True, slots=True)
class Move:
    """One mass into a container, or out of it (negative).

    Attributes:
        at_s: when, Unix seconds; of a job its closing, or its last entry while it is open.
        kind: purchased, used, recovered, returned or difference.
        mass_kg: signed.
        u_kg: standard uncertainty; None where nobody stated one.
        job: the job it follows from; None for an entry of the stock.
        position: the entry it follows from; None for a job.
        note: why, from whom, to whom.
    """

    at_s: float
    kind: str
    mass_kg: float
    u_kg: float | None = None
    job: str | None = None
    position: int | None = None
    note: str | None = None


def moves_of(holding: Holding, jobs: Iterable[Job]) -> tuple[Move, ...]:
    """The moves of one container in the order of time. After its return nothing is left in it."""
    events: list[tuple[float, int, Move | Booked]] = [(holding.bought.at_s, 0, _purchased(holding))]
    for order, job in enumerate(users(holding, jobs), start=1):
        move = _of_job(holding.id, job)
        if move is not None:
            events.append((max(move.at_s, holding.bought.at_s), order, move))
    last = len(events)
    events += [(one.at_s, last + index, one) for index, one in enumerate(holding.booked)]
    events.sort(key=lambda event: event[:2])
    made: list[Move] = []
    for _, _, event in events:
        if isinstance(event, Move):
            made.append(event)
        else:
            made += _of_entry(event, sum(move.mass_kg for move in made))
    return tuple(made)


def left_of(moves: Iterable[Move]) -> tuple[float, float | None]:
    """What is left, kg, and the standard uncertainty that jobs since the last weighing leave; None where none does."""
    left_kg, doubts = 0.0, list[float]()
    for move in moves:
        left_kg += move.mass_kg
        if move.kind == "difference":
            doubts.clear()
        elif move.u_kg is not None:
            doubts.append(move.u_kg)
    return left_kg, math.hypot(*doubts) if doubts else None


def _purchased(holding: Holding) -> Move:
    said = holding.purchase
    note = ", ".join(text for text in (said.supplier, said.document) if text) or None
    return Move(holding.bought.at_s, "purchased", said.net_kg, position=holding.bought.position, note=note)


def _of_job(container_id: str, job: Job) -> Move | None:
    container = job.course.containers[container_id]
    drawn, var = container.drawn(job.course.pan_of(container))
    if drawn == 0.0 and var == 0.0:
        return None
    at_s = job.now_s if job.closed_s is None else job.closed_s
    if container.recovers:
        return Move(at_s, "recovered", drawn, u_of(var), job=job.id)
    return Move(at_s, "used", -drawn, u_of(var), job=job.id)


def _of_entry(booked: Booked, held_kg: float) -> Iterator[Move]:
    action, at_s, position = booked.action, booked.at_s, booked.position
    match action:
        case Use():
            yield Move(at_s, "used", -action.mass_kg, position=position, note=action.reason)
        case Recovery():
            yield Move(at_s, "recovered", action.mass_kg, position=position, note=action.reason)
        case Weighing():
            contents_kg = action.gross_kg - (action.tare_kg or 0.0)  # the ledger has put the tare in
            yield Move(at_s, "difference", contents_kg - held_kg, position=position, note="weighed")
        case Return():
            mass_kg = max(held_kg, 0.0) if action.mass_kg is None else action.mass_kg
            note = ", ".join(text for text in (action.to, action.document) if text) or None
            yield Move(at_s, "returned", -mass_kg, position=position, note=note)
            if held_kg != mass_kg:
                yield Move(at_s, "difference", mass_kg - held_kg, position=position, note="at its return")
        case Purchase() | Cancel():
            raise AssertionError(f"{action.type} is no entry of a container in the stock")
