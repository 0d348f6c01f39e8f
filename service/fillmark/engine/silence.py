"""Silence: a channel that spoke and is needed has nothing more to say. A frozen number looks like a true one."""

from __future__ import annotations

from fillmark.engine.conditions import Active, Findings
from fillmark.engine.course import Course
from fillmark.engine.picture import Picture
from fillmark.engine.steps import Step

NEVER_SPOKE_S = 9.0
"""Time after which a scale that has not spoken at all since a container was mounted counts as silent."""

WATCHED = (
    "scale/mass", "low/pressure", "high/pressure", "suction/temperature", "liquid/temperature",
    "discharge/temperature", "vent/temperature", "ambient/temperature", "container/temperature", "vacuum/pressure",
)  # fmt: skip


def reading_stale(picture: Picture, active: Active) -> Findings:
    """A channel that spoke has fallen silent."""
    del active
    course, found = picture.course, {}
    for channel in WATCHED:
        latest = course.latest.get(channel)
        if latest is not None and is_needed(channel, course) and not picture.live(channel):
            found[channel] = _silent(channel, picture.now_s - latest.time_s)
    due = silent_scale_at_s(course)
    if due is not None and picture.now_s >= due:
        found["scale/mass"] = "The scale has not spoken yet. Open no valve before it does; check its cable and battery."
    return found


def _silent(channel: str, for_s: float) -> str:
    """What to say of a silent channel; a display may put its first sentence large."""
    since = f"Nothing was heard for {for_s:.0f} s, and its last value is no longer true."
    if channel == "scale/mass":
        return f"The scale is silent, shut the valve until it speaks again. {since}"
    if channel == "vacuum/pressure":
        return f"The vacuum gauge is silent. {since} Check its battery and link; what the vacuum does is not seen."
    return f"{channel} is silent. {since} Check the probe."


def is_needed(channel: str, course: Course) -> bool:
    """Whether the job needs a channel now: its silence at another time is nobody's business."""
    if channel in {"scale/mass", "container/temperature"}:
        return course.mounted is not None
    if channel == "vacuum/pressure":
        return course.step in {Step.EVACUATION, Step.VACUUM_HOLD}
    return channel in WATCHED


def silent_scale_at_s(course: Course) -> float | None:
    """Moment from which a scale that has never spoken counts as silent; None: it spoke, or nothing is mounted."""
    if course.mounted is None or "scale/mass" in course.latest:
        return None
    return course.pan.path_since_s + NEVER_SPOKE_S
