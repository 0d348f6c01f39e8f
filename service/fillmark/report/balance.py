"""Refrigerant in and out, each with its standard uncertainty where one is known.

    out of the containers = into the circuit + in the hose + lost with it + purged + recovered from it

The terms come from one scale and one model of the hose, so that their doubts are not independent. What the sum leaves
over is shown, not shared out.
"""

from __future__ import annotations

from typing import Any

from fillmark.engine.job import Job

Plain = dict[str, Any]


def balance(job: Job) -> Plain:
    """The balance of the containers and of the circuit, kg."""
    shown, account = job.picture, job.course.account
    recovered, recovered_u = job.course.recovered()
    hose = shown.hose
    parts = [
        _row("into the circuit", shown.charged.mass_kg, shown.charged.u_kg),
        _row("in the hose at the end", None if hose is None else hose.mass_kg, None if hose is None else hose.u_kg),
        _row("lost with the hose", account.lost_kg, None),
        _row("purged", account.purged_kg, None),
        _row("recovered from the hose", account.recovered_kg, None),
        _row("corrected by hand", -account.corrected_kg, None),
    ]
    left = shown.dispensed.mass_kg - sum(part["mass_kg"] for part in parts if part["mass_kg"] is not None)
    recovers = any(container.recovers for container in job.course.containers.values())
    return {
        "drawn_from_containers": _row("out of the containers", shown.dispensed.mass_kg, shown.dispensed.u_kg),
        "parts": parts,
        "left_over_kg": None if hose is None else _rounded(left),
        "recovered_from_circuit": _row("out of the circuit into recovery cylinders", recovered, recovered_u)
        if recovers
        else None,
    }


def _row(what: str, mass_kg: float | None, u_kg: float | None) -> Plain:
    return {"what": what, "mass_kg": _rounded(mass_kg), "u_kg": _rounded(u_kg)}


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 5) + 0.0
