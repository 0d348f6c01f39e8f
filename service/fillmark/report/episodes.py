"""Stop points as they came and went: when each was raised, acknowledged, put aside, and over."""

from __future__ import annotations

from typing import Any

from fillmark.engine import alarm_life
from fillmark.engine.alarm_life import Life
from fillmark.engine.job import Job
from fillmark.engine.stop_points import STOP_POINTS

Plain = dict[str, Any]

_UNHEARD = frozenset({Life.UNACKNOWLEDGED_ACTIVE, Life.RETURNED_UNACKNOWLEDGED, Life.LATCHED_UNACKNOWLEDGED})


def episodes(job: Job) -> list[Plain]:
    """One row a raising, in their order. `acknowledged_at` is None where nobody has acknowledged it."""
    rows: list[Plain] = []
    open_rows: dict[tuple[str, str], Plain] = {}
    for moved in job.journal:
        key = (moved.id, moved.subject)
        if moved.after in alarm_life.ACTIVE and moved.before not in alarm_life.ACTIVE:
            row = STOP_POINTS[moved.id]
            open_rows[key] = {
                "id": moved.id,
                "subject": moved.subject,
                "severity": str(row.severity),
                "raised_at": moved.at_s,
                "text": moved.text,
                "what": row.what,
                "over_at": None,
                "acknowledged_at": None,
                "put_aside": None,
                "state": str(moved.after),
            }
            rows.append(open_rows[key])
        elif key in open_rows:
            found = open_rows[key]
            found["state"] = str(moved.after)
            if moved.before in alarm_life.ACTIVE and moved.after not in alarm_life.ACTIVE:
                found["over_at"] = moved.at_s
            if moved.after in alarm_life.ASIDE:
                found["put_aside"] = moved.text
            elif moved.before in _UNHEARD and moved.after not in _UNHEARD:
                found["acknowledged_at"] = moved.at_s
    return rows
