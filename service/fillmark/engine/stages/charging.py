"""The charging step's report, drawn from the picture of the moment."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fillmark.engine.report import Report

if TYPE_CHECKING:
    from fillmark.engine.picture import Picture


def charging_report(shown: Picture) -> Report:
    """What was charged, how sure it is, and what the mass alone does not prove."""
    circuit, charged = shown.course.setup.circuit, shown.charged
    inside = circuit.charge_min_kg <= charged.mass_kg <= circuit.charge_max_kg
    sure = shown.probability_in_window >= 0.95
    verdict = "in the window" if inside and sure else "probably in the window" if inside else "outside the window"
    if not inside and shown.probability_in_window > 0.05:
        verdict = "probably outside the window"
    weakest = max(shown.budget, key=lambda term: term.u_kg)
    return Report(
        measured=(
            (
                f"{charged.mass_kg * 1e3:.0f} ± {2e3 * charged.u_kg:.0f} g in the circuit; label "
                f"{circuit.charge_min_kg * 1e3:.0f} to {circuit.charge_max_kg * 1e3:.0f} g, aim "
                f"{shown.course.setup.aim_kg * 1e3:.0f} g"
            ),
            f"the chance that it lies in the window is {shown.probability_in_window:.0%}",
        ),
        proves=("the mass that the label asks for is in the circuit",) if inside and sure else (),
        does_not_prove=("that the circuit is tight, dry and free of air, or that it cools",),
        next=(
            _next(shown),
            f"the largest doubt is the {weakest.name}: {weakest.u_kg * 1e3:.1f} g ({weakest.source})",
            f"it gets smaller by this: {weakest.better}",
        ),
        verdict=verdict,
        numbers={
            "charged_kg": round(charged.mass_kg, 5),
            "charged_u_kg": round(charged.u_kg, 5),
            "probability_in_window": round(shown.probability_in_window, 4),
            "line_extra_kg": round(circuit.line_extra_kg, 5),
        },
    )


def _next(shown: Picture) -> str:
    circuit, mass = shown.course.setup.circuit, shown.charged.mass_kg
    if mass > circuit.charge_max_kg:
        return f"recover {(mass - shown.course.setup.aim_kg) * 1e3:.0f} g by weight"
    if mass < circuit.charge_min_kg:
        return f"charge {(shown.course.setup.aim_kg - mass) * 1e3:.0f} g more"
    return "run the performance test"
