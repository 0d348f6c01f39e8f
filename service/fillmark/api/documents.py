"""The documents that displays read: the job, the short list, one transition, and the glance."""

from __future__ import annotations

from fillmark.api.answers import dumps
from fillmark.engine import view
from fillmark.engine.job import Job, Transition
from fillmark.engine.plan import Plan
from fillmark.engine.stop_points import STOP_POINTS
from fillmark.engine.workshop import Workshop
from fillmark.refrigerants.safety import Safety, safety

Plain = dict[str, object]


def plan_document(made: Plan, aim_kg: float) -> Plain:
    """A plan that was asked for before the job."""
    return {
        "aim_kg": round(aim_kg, 6),
        "need_kg": round(made.need_kg, 6),
        "short_kg": round(made.short_kg, 6),
        "text": made.sentence(),
        "containers": [
            {"id": d.container, "take_kg": round(d.take_kg, 6), "left_kg": round(d.left_kg, 6)} for d in made.drafts
        ],
    }


def safety_document(known: Safety) -> Plain:
    """Safety class and cautions."""
    return {
        "class": str(known.safety_class),
        "flammable": known.safety_class.flammable,
        "class_source": known.class_source,
        "cautions": list(known.cautions),
    }


def job_document(job: Job) -> Plain:
    """Everything about a job but the time of the answer. `judged_at` is when its stop points were last judged."""
    shown = view.job_view(job)
    shown["judged_at"] = shown.pop("now")
    shown["safety"] = safety_document(safety(job.course.setup.circuit.refrigerant.name))
    return shown


MOST_TEXTS = 100


class JobTexts:
    """The job document as JSON text, made once for each state however many displays watch."""

    def __init__(self) -> None:
        self._made: dict[str, tuple[Job, str]] = {}

    def text(self, job: Job, now_s: float) -> str:
        """The document with `now`, the service's clock, in front."""
        made = self._made.get(job.id)
        if made is None or made[0] is not job:
            if len(self._made) >= MOST_TEXTS:
                self._made.clear()
            made = self._made[job.id] = (job, dumps(job_document(job)))
        return f'{{"now":{dumps(now_s)},{made[1][1:]}'


def short_document(job: Job) -> Plain:
    """A job in one line of a list."""
    shown = view.summary(job)
    names = ("job", "bay", "refrigerant", "step", "charged_kg", "charged_u_kg", "aim_kg")
    return {
        **{name: shown[name] for name in names},
        "opened_at": job.opened_s,
        "closed_at": job.closed_s,
        "position": job.position,
        "active": [key[0] for key in job.active],
    }


def transition_document(job: Job, moved: Transition) -> Plain:
    """One change of one stop point."""
    row = STOP_POINTS[moved.id]
    return {
        "job": job.id,
        "position": moved.position,
        "at": moved.at_s,
        "id": moved.id,
        "subject": moved.subject,
        "severity": str(row.severity),
        "before": str(moved.before),
        "after": str(moved.after),
        "text": moved.text,
        "what": row.what,
    }


def glance_document(workshop: Workshop, bay: str, now_s: float) -> Plain:
    """The flat document of a bay. Without an open job its values are null."""
    return {"now": now_s, **view.glance(workshop.open_job(bay), bay)}


def action_document(job: Job, at_s: float) -> Plain:
    """The answer to an action: where and when it stands in the log, and the bay at a glance after it."""
    return {"at": at_s, **view.glance(job, job.bay)}
