"""The charge plan: how much to take from which container, in the order in which they are given."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Stock:
    """A container at hand. `net_kg` is what it holds, `heel_kg` what cannot be drawn of it."""

    id: str
    net_kg: float
    heel_kg: float = 0.0


@dataclass(frozen=True, slots=True)
class Draft:
    """What the plan takes from one container and what stays in it, kg."""

    container: str
    take_kg: float
    left_kg: float
    all_of_it: bool


@dataclass(frozen=True, slots=True)
class Plan:
    """The plan. `need_kg` is aim and hose filling; `short_kg` is what the containers lack."""

    need_kg: float
    drafts: tuple[Draft, ...]
    short_kg: float

    def sentence(self) -> str:
        """The plan in one line, in grams."""
        parts = []
        for draft in self.drafts:
            if draft.take_kg <= 0.0:
                parts.append(f"{draft.container} stays shut")
            elif draft.all_of_it:
                parts.append(f"all of {draft.container} ({grams(draft.take_kg)})")
            else:
                stays = f"{grams(draft.left_kg)} stay in {draft.container}"
                parts.append(f"{grams(draft.take_kg)} of {draft.container}, {stays}")
        line = ", then ".join(part for part in parts if not part.endswith("stays shut")) or "nothing to draw"
        if self.short_kg > 0.0:
            line += f"; {grams(self.short_kg)} are missing"
        return line


def grams(mass_kg: float) -> str:
    """A mass for people, whole grams."""
    return f"{round(mass_kg * 1000.0) + 0:d} g"


def plan(aim_kg: float, hose_kg: float, containers: Sequence[Stock]) -> Plan:
    """Share the need out, container by container.

    Args:
        aim_kg: mass that is still to come into the circuit.
        hose_kg: what the hose will hold at the end and must be drawn as well.
        containers: in the order of use.
    """
    need = left_to_take = aim_kg + hose_kg
    drafts = []
    for stock in containers:
        drawable = max(stock.net_kg - stock.heel_kg, 0.0)
        take = min(drawable, max(left_to_take, 0.0))
        left_to_take -= take
        drafts.append(Draft(stock.id, take, stock.net_kg - take, take > 0.0 and take >= drawable))
    short = left_to_take if left_to_take > 1e-9 else 0.0
    return Plan(need, tuple(drafts), short)
