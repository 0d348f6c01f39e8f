"""The job as plain data for any display: numbers in SI with the unit in the name, unknown as None.

Masses are rounded to 10 mg, so that a display shows no digits that nobody measured and every machine writes the same.
"""

from __future__ import annotations

import math

from fillmark.engine import alarm_life
from fillmark.engine.budget import Term
from fillmark.engine.containers import u_of
from fillmark.engine.delay import Delay
from fillmark.engine.hints import hints
from fillmark.engine.job import Job, Point, life_of
from fillmark.engine.landing_doubt import landing_doubt
from fillmark.engine.oil import OilBalance
from fillmark.engine.picture import Picture
from fillmark.engine.plan import Stock, plan
from fillmark.engine.reaction import Reaction
from fillmark.engine.report import Report
from fillmark.engine.stages.recovery import contents_kg
from fillmark.engine.step_folds import step_report
from fillmark.engine.steps import StepRecord
from fillmark.engine.stop_points import STOP_POINTS

Plain = dict[str, object]
UNITS = {"mass": "kg", "pressure": "Pa", "temperature": "Cel", "humidity": "%RH"}


def job_view(job: Job) -> Plain:
    """Everything about a job."""
    return {
        **summary(job),
        "now": job.now_s,
        "opened_at": job.opened_s,
        "closed_at": job.closed_s,
        "position": job.position,
        "flow_kg_s": _rounded(job.picture.flow_kg_s, 6),
        "mass_at": job.picture.mass_at_s,
        "mass_live": job.picture.live("scale/mass"),
        **_landing(job),
        "hose_u_kg": None if job.picture.hose is None else _rounded(job.picture.hose.u_kg),
        "budget": _budget(job.picture.budget),
        "reaction": _reaction(job.course.setup.reaction),
        "timing": _timing(job.delay),
        "valves": dict(job.course.valves),
        "engine_running": job.course.engine_running,
        "mounted": job.course.mounted,
        "readings": _readings(job.picture),
        "saturation": _saturation(job.picture),
        "plan": _plan(job.picture),
        "assumed": list(_assumed(job.picture)),
        "hints": list(hints(job.course)),
        "oil": _oil(job.course.oil),
        "pump_running": job.course.pump_running,
        "notes": [{"at": note.time_s, "text": note.text} for note in job.course.notes],
        "active": _active(job),
    }


def summary(job: Job) -> Plain:
    """What a replay prints of a job."""
    shown = job.picture
    course, account = job.course, job.course.account
    circuit = course.setup.circuit
    return {
        "job": job.id,
        "bay": job.bay,
        "step": None if course.step is None else str(course.step),
        "refrigerant": circuit.refrigerant.name,
        "charge_min_kg": _rounded(circuit.charge_min_kg),
        "charge_max_kg": _rounded(circuit.charge_max_kg),
        "aim_kg": _rounded(course.setup.aim_kg),
        "charged_kg": _rounded(shown.charged.mass_kg),
        "charged_u_kg": _rounded(shown.charged.u_kg),
        "dispensed_kg": _rounded(shown.dispensed.mass_kg),
        "dispensed_u_kg": _rounded(shown.dispensed.u_kg),
        "hose_kg": None if shown.hose is None else _rounded(shown.hose.mass_kg),
        "lost_kg": _rounded(account.lost_kg),
        "purged_kg": _rounded(account.purged_kg),
        "recovered_kg": _rounded(account.recovered_kg),
        "probability_in_window": _rounded(shown.probability_in_window, 4),
        "containers": _containers(shown),
        "stop_points": _raised(job),
        "steps": _steps(job),
    }


def glance(job: Job | None, bay: str) -> Plain:
    """One flat object for a screen with no memory. Without a job every value is None."""
    shown = None if job is None else job.picture
    active = () if job is None else tuple(dict.fromkeys(key[0] for key in job.active))
    first = None if job is None or not job.active else job.active[0]
    return {
        "bay": bay,
        "job": None if job is None else job.id,
        "step": None if job is None or job.course.step is None else str(job.course.step),
        "refrigerant": None if job is None else job.course.setup.circuit.refrigerant.name,
        "charged_kg": None if shown is None else _rounded(shown.charged.mass_kg),
        "charged_u_kg": None if shown is None else _rounded(shown.charged.u_kg),
        "aim_kg": None if job is None else _rounded(job.course.setup.aim_kg),
        "charge_min_kg": None if job is None else _rounded(job.course.setup.circuit.charge_min_kg),
        "charge_max_kg": None if job is None else _rounded(job.course.setup.circuit.charge_max_kg),
        "flow_kg_s": None if shown is None else _rounded(shown.flow_kg_s, 6),
        "aim_in_s": None if shown is None or shown.landing is None else _rounded(shown.landing.aim_in_s, 1),
        "mass_at": None if shown is None else shown.mass_at_s,
        "mass_live": False if shown is None else shown.live("scale/mass"),
        "close_valve": "close-valve-now" in active,
        "active": " ".join(active),
        "stop_point": None if first is None else first[0],
        "severity": None if first is None else str(STOP_POINTS[first[0]].severity),
        "text": None if first is None or job is None else job.points[first].text,
        "position": 0 if job is None else job.position,
    }


def _rounded(value: float | None, digits: int = 5) -> float | None:
    return None if value is None else round(value, digits) + 0.0


def _budget(terms: tuple[Term, ...]) -> list[Plain]:
    return [
        {
            "term": t.name,
            "u_kg": _rounded(t.u_kg),
            "source": t.source,
            "assumed": t.assumed,
            "dof": None if math.isinf(t.dof) else t.dof,
            "better": t.better,
        }
        for t in terms
    ]


def _reaction(reaction: Reaction) -> Plain:
    """The reaction time that the close call reckons with."""
    return {
        "time_s": _rounded(reaction.time_s, 3),
        "u_s": _rounded(reaction.u_s, 3),
        "closings": reaction.closings,
        "source": reaction.source,
        "text": reaction.sentence(),
    }


def _timing(delay: Delay) -> Plain:
    """How late the scale's indications are; None before the first."""
    return {
        "least_s": _rounded(delay.least_s, 3),
        "usual_s": _rounded(delay.usual_s, 3),
        "high_s": _rounded(delay.high_s, 3),
        "clocks_apart_s": _rounded(delay.apart_s, 3),
        "text": delay.sentence(),
    }


def _landing(job: Job) -> Plain:
    land, doubt = job.picture.landing, landing_doubt(job)
    return {
        "lands_if_called_u_kg": None if doubt is None else _rounded(doubt.u_kg),
        "probability_if_called": None if doubt is None else _rounded(doubt.probability_in_window, 4),
        "landing_budget": [] if doubt is None else _budget(doubt.terms),
        "lands_if_shut_kg": None if land is None else _rounded(land.if_shut_kg),
        "lands_if_called_kg": None if land is None else _rounded(land.if_called_kg),
        "call_in_s": None if land is None else _rounded(land.call_in_s, 1),
        "aim_in_s": None if land is None else _rounded(land.aim_in_s, 1),
    }


def _containers(shown: Picture) -> list[Plain]:
    course = shown.course
    rows: list[Plain] = []
    for container in course.containers.values():
        pan = course.pan if container.id == course.mounted else None
        drawn, var = container.drawn(pan)
        rows.append(
            {
                "id": container.id,
                "use": "recovery" if container.recovers else "charge",
                "draw": container.draw,
                "mounted": pan is not None,
                "gross_kg": _rounded(container.full_kg),
                "drawn_kg": _rounded(drawn),
                "drawn_u_kg": _rounded(u_of(var)),
                "left_kg": _rounded(container.left_kg(pan)),
                "contents_kg": _rounded(contents_kg(container, course)) if container.recovers else None,
            }
        )
    return rows


def _raised(job: Job) -> list[Plain]:
    """Every raising of a stop point, and the state in which the stop point is now."""
    rows: list[Plain] = []
    for moved in job.journal:
        if moved.after not in alarm_life.ACTIVE or moved.before in alarm_life.ACTIVE:
            continue
        row = STOP_POINTS[moved.id]
        point: Point | None = job.points.get((moved.id, moved.subject))
        last = point is not None and point.raised_s == moved.at_s
        rows.append(
            {
                "id": moved.id,
                "subject": moved.subject,
                "severity": str(row.severity),
                "at": moved.at_s,
                "text": moved.text,
                "state": str(point.life) if last and point is not None else "normal",
            }
        )
    return rows


def _active(job: Job) -> list[Plain]:
    """Stop points that a display must show, the most pressing first."""
    order = list(STOP_POINTS)
    shown = [(key, point) for key, point in job.points.items() if point.life in alarm_life.SHOWN]
    shown.sort(key=lambda item: (item[1].life not in alarm_life.ACTIVE, order.index(item[0][0]), item[0][1]))
    return [
        {
            "id": key[0],
            "subject": key[1],
            "severity": str(STOP_POINTS[key[0]].severity),
            "state": str(point.life),
            "at": point.raised_s,
            "text": point.text,
            "what": STOP_POINTS[key[0]].what,
            "why": STOP_POINTS[key[0]].why,
            "source": STOP_POINTS[key[0]].source,
        }
        for key, point in shown
    ]


def _steps(job: Job) -> Plain:
    return {str(record.step): step_document(job, record) for record in job.course.steps}


def step_document(job: Job, record: StepRecord) -> Plain:
    """When a step began and ended, and its report."""
    return {
        "began": record.began_s,
        "ended": record.ended_s,
        "reason": record.reason or None,
        "skipped": record.skipped,
        "report": _report(step_report(job.course) if record.ended_s is None else record.report),
    }


def _report(report: Report | None) -> Plain | None:
    if report is None:
        return None
    return {
        "verdict": report.verdict,
        "measured": list(report.measured),
        "proves": list(report.proves),
        "does_not_prove": list(report.does_not_prove),
        "next": list(report.next),
        "numbers": dict(report.numbers),
    }


def _readings(shown: Picture) -> Plain:
    rows: Plain = {}
    for channel, latest in sorted(shown.course.latest.items()):
        rows[channel] = {
            "value": latest.value,
            "unit": UNITS.get(channel.rpartition("/")[2]),
            "at": latest.time_s,
            "live": shown.live(channel),
        }
    return rows


def _saturation(shown: Picture) -> Plain:
    """Saturation temperatures at the service ports, dew on the low side and bubble on the high side, in K."""
    fluid = shown.course.setup.circuit.refrigerant
    rows: Plain = {}
    for name, channel, function in (
        ("low_dew_k", "low/pressure", fluid.dew_temperature_k),
        ("high_bubble_k", "high/pressure", fluid.bubble_temperature_k),
    ):
        pressure = shown.course.pressure_abs_pa(channel)
        try:
            rows[name] = None if pressure is None else _rounded(function(pressure), 2)
        except ValueError:
            rows[name] = None
    return rows


def _plan(shown: Picture) -> Plain | None:
    """How the rest of the aim is shared over the containers that are known."""
    course = shown.course
    stocks = []
    for container in course.containers.values():
        if container.recovers:
            continue
        left = container.left_kg(course.pan if container.id == course.mounted else None)
        if left is None:
            return None
        stocks.append(Stock(container.id, max(left, 0.0), container.heel_kg))
    if not stocks:
        return None
    rest = max(course.setup.aim_kg - shown.charged.mass_kg, 0.0)
    made = plan(rest, 0.0, stocks)
    return {"need_kg": _rounded(made.need_kg), "short_kg": _rounded(made.short_kg), "text": made.sentence()}


def _oil(oil: OilBalance) -> Plain | None:
    if not oil.touched:
        return None
    return {
        "removed_m3": _rounded(oil.removed_m3, 8),
        "added_m3": _rounded(oil.added_m3, 8),
        "to_add_m3": _rounded(oil.to_add_m3, 8),
        "replaced": [{"component": part.component, "oil_m3": _rounded(part.oil_m3, 8)} for part in oil.replaced],
    }


def _assumed(shown: Picture) -> tuple[str, ...]:
    """What was not given and is taken for granted until somebody says better."""
    course, setup = shown.course, shown.course.setup
    lines = []
    if setup.reaction.source == "assumed":
        lines.append(f"reaction time {setup.reaction.time_s:g} s")
    if course.scale_lag_s != setup.scale.delay_s:
        seen = "" if course.settling.lag_s is None else ", as it settles"
        lines.append(f"scale delay {course.scale_lag_s:.1f} s{seen}")
    if setup.scale.accuracy_class is None:
        lines.append("scale of class III")
    if setup.scale.capacity_kg is None:
        lines.append(f"scale of {setup.scale.capacity_or_default_kg:g} kg")
    if not setup.scale.sheltered:
        lines.append("scale in sun or draught")
    if course.value("ambient/temperature") is None and course.value("container/temperature") is None:
        lines.append("hose at 20 °C")
    if (setup.gauge_all or setup.gauge) and course.barometer().estimated:
        lines.append(f"barometer {course.barometer().pressure_pa:.0f} Pa from {course.barometer().source}")
    if not course.valves_recorded and course.mounted is not None:
        lines.append("no valve was recorded: whatever leaves the container counts as charged")
    if setup.limits.high_pressure_abs_pa is None:
        lines.append("no high-pressure limit given: the high side is not watched")
    return tuple(lines)


def lives(job: Job) -> dict[str, str]:
    """State of every stop point of the table by id."""
    return {row.id: str(life_of(job, row)) for row in STOP_POINTS.values()}
