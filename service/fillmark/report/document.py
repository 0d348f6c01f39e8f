"""The record of one job as plain data: numbers in SI with the unit in the name, unknown as None.

It follows from the log and from nothing else: no clock, no name of a machine, no order that could differ. Only the
versions of the software stand in it besides, because another version may reckon otherwise.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import fillmark
from fillmark.engine import view
from fillmark.engine.budget import combined_u_kg, effective_dof
from fillmark.engine.events import CorrectCharge, ExplainStep
from fillmark.engine.job import Job
from fillmark.engine.setup import Setup
from fillmark.engine.steps import Step, StepRecord
from fillmark.intake.events import from_records
from fillmark.refrigerants.facade import coolprop_version
from fillmark.refrigerants.safety import safety
from fillmark.report import chain as chains
from fillmark.report.balance import balance
from fillmark.report.chain import Chain
from fillmark.report.episodes import episodes
from fillmark.report.figures import figures_of
from fillmark.report.retrace import Curves, Trace, retrace
from fillmark.wire.actions import Particulars

Plain = dict[str, Any]
FORM = 1
"""Version of the record's own form."""

PARTICULARS = tuple(name for name in Particulars.model_fields if name != "type")


def record_of(texts: Iterable[str], job_id: str | None = None) -> Plain:
    """The record of a job from the lines of its log or of a recorded stream.

    Args:
        texts: one SenML pack a line.
        job_id: which job, where the log holds several.

    Raises:
        StreamError: a line that cannot be read, or no such job.
    """
    trace = retrace(texts)
    job = trace.job(job_id)
    curves = trace.curves.get(job.id, Curves())
    return document(job, curves, trace, chains.chain(trace.lines))


def document(job: Job, curves: Curves, trace: Trace, chain: Chain) -> Plain:
    """The record of a job."""
    shown: Any = view.job_view(job)
    setup = job.course.setup
    return {
        "record": {
            "form": FORM,
            "fillmark": fillmark.__version__,
            "coolprop": coolprop_version(),
            "complete": job.closed_s is not None,
        },
        "job": {
            "id": job.id,
            "bay": job.bay,
            "opened_at": job.opened_s,
            "closed_at": job.closed_s,
            "last_entry_at": job.now_s,
            "note": setup.note or None,
        },
        "particulars": _particulars(job),
        "circuit": _circuit(setup),
        "means": _means(setup),
        "charge": _charge(job, shown),
        "balance": balance(job),
        "containers": [_container(job, row) for row in shown["containers"]],
        "oil": shown["oil"],
        "steps": [_step(job, record, curves) for record in job.course.steps],
        "figures": _stepless_figures(job, curves),
        "stop_points": episodes(job),
        "corrections": _corrections(trace, job),
        "notes": shown["notes"],
        "hints": shown["hints"],
        "assumed": shown["assumed"],
        "budget": _budget(job, shown),
        "log": {
            "lines": len(chain.marks),
            "algorithm": chains.ALGORITHM,
            "hash": chain.head,
            "proves": list(chains.PROVES),
            "does_not_prove": list(chains.DOES_NOT_PROVE),
            "marks": list(chain.marks),
        },
    }


def _particulars(job: Job) -> Plain:
    given = dict(job.course.particulars)
    if job.course.setup.technician is not None:
        given.setdefault("technician", job.course.setup.technician)
    return {name: given.get(name) for name in PARTICULARS}


def _circuit(setup: Setup) -> Plain:
    circuit = setup.circuit
    known = safety(circuit.refrigerant.name)
    return {
        "refrigerant": known.name,
        "safety_class": str(known.safety_class),
        "safety_source": known.class_source,
        "kind": "stationary" if circuit.stationary else "vehicle",
        "charge_min_kg": round(circuit.charge_min_kg, 5),
        "charge_max_kg": round(circuit.charge_max_kg, 5),
        "line_extra_kg": round(circuit.line_extra_kg, 5),
        "volume_m3": _exact(circuit.volume_m3),
        "cautions": list(known.cautions),
    }


def _means(setup: Setup) -> Plain:
    scale, hose, gauge, pump = setup.scale, setup.hose, setup.vacuum_gauge, setup.pump
    return {
        "scale": {
            "resolution_kg": scale.resolution_kg,
            "class": scale.accuracy_class,
            "capacity_kg": scale.capacity_kg,
            "delay_s": scale.delay_s,
            "sheltered": scale.sheltered,
        },
        "hose": None
        if hose is None
        else {"length_m": _exact(hose.length_m), "bore_m": _exact(hose.bore_m), "shutoff": hose.shutoff},
        "vacuum_gauge": None
        if gauge is None
        else {"resolution_pa": gauge.resolution_pa, "kind": "compound" if gauge.compound else "absolute"},
        "pump": {
            "speed_m3_s": _exact(pump.speed_m3_s),
            "ultimate_pa": _exact(pump.ultimate_pa),
            "hose": None
            if pump.hose is None
            else {"length_m": _exact(pump.hose.length_m), "bore_m": _exact(pump.hose.bore_m)},
        },
        "reaction_time_s": None if setup.reaction.source == "assumed" else setup.reaction.time_s,
        "altitude_m": setup.altitude_m,
        "barometer_pa": setup.barometer_pa,
        "limits": {
            "high_pressure_abs_pa": setup.limits.high_pressure_abs_pa,
            "low_pressure_abs_pa": setup.limits.low_pressure_abs_pa,
            "container_temperature_k": setup.limits.container_temperature_k,
            "test_pressure_abs_pa": setup.limits.test_pressure_abs_pa,
        },
    }


def _exact(value: float | None) -> float | None:
    """A declared quantity without the last bits that its conversion left."""
    return None if value is None else float(f"{value:.12g}")


def _charge(job: Job, shown: Plain) -> Plain | None:
    """What was charged; None where nothing was: a zero would say that somebody had weighed nothing."""
    began = [record for record in job.course.steps if record.step == "charging" and not record.skipped]
    drawn = any(row["use"] == "charge" and row["drawn_kg"] for row in shown["containers"])
    if not began and not drawn:
        return None
    return {
        "charged_kg": shown["charged_kg"],
        "charged_u_kg": shown["charged_u_kg"],
        "charge_min_kg": shown["charge_min_kg"],
        "charge_max_kg": shown["charge_max_kg"],
        "aim_kg": shown["aim_kg"],
        "probability_in_window": shown["probability_in_window"],
        "ended_at": began[-1].ended_s if began else None,
    }


def _container(job: Job, row: Plain) -> Plain:
    container = job.course.containers[row["id"]]
    return {
        **{name: row[name] for name in ("id", "use", "draw", "gross_kg", "drawn_kg", "drawn_u_kg", "left_kg")},
        "contents_kg": row["contents_kg"],
        "refrigerant": container.refrigerant,
        "net_kg": container.net_kg,
        "tare_kg": container.tare_kg,
        "heel_kg": container.heel_kg,
    }


def _step(job: Job, record: StepRecord, curves: Curves) -> Plain:
    report: Any = view.step_document(job, record)
    said = report.pop("report") or {}
    return {
        "step": str(record.step),
        "began_at": report["began"],
        "ended_at": report["ended"],
        "skipped": report["skipped"],
        "reason": report["reason"],
        "verdict": said.get("verdict"),
        **{name: said.get(name, []) for name in ("measured", "proves", "does_not_prove", "next")},
        "numbers": said.get("numbers", {}),
        "figures": [] if record.skipped else figures_of(job, record, curves),
    }


def _stepless_figures(job: Job, curves: Curves) -> list[Plain]:
    """The figures of a charge whose steps nobody recorded; none where steps show their own."""
    if job.course.steps or not curves.charged:
        return []
    return figures_of(job, StepRecord(Step.CHARGING, job.opened_s, job.closed_s), curves)


def _corrections(trace: Trace, job: Job) -> list[Plain]:
    """What the technician changed by hand: masses added or taken off, steps of the pan explained."""
    found: list[Plain] = []
    last_s = job.now_s if job.closed_s is None else job.closed_s
    for records in trace.lines:
        own = [record for record in records if record.name == f"{job.bay}/action"]
        for event in from_records(own).get(job.bay, ()):
            if not job.opened_s <= event.time_s <= last_s:
                continue
            if isinstance(event, CorrectCharge):
                found.append({"at": event.time_s, "mass_kg": event.mass_kg, "text": event.reason})
            elif isinstance(event, ExplainStep):
                found.append({"at": event.time_s, "mass_kg": None, "text": f"a step of the pan was {event.was}"})
    return found


def _budget(job: Job, shown: Plain) -> Plain:
    terms = job.picture.budget
    dof = effective_dof(terms)
    return {
        "terms": shown["budget"],
        "combined_u_kg": round(combined_u_kg(terms), 5),
        "effective_dof": None if dof > 1e6 else round(dof, 1),
        "source": "JCGM 100:2008 (GUM), sections 5.1 and G.4.1",
    }
