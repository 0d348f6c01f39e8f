"""What hands do to the pan: they put a container on it, take it off, and somebody says what they did."""

from __future__ import annotations

from dataclasses import replace

from fillmark.engine.weighing.estimate import Estimate
from fillmark.engine.weighing.pan import Pan
from fillmark.engine.weighing.path import Path
from fillmark.engine.weighing.settling import Settling

WAY_SHARE_U = 0.1
"""Of the way that is left when it is foreseen. Judged."""

END_STEPS = 0.3
"""A mean of readings that were still rising is off by more than its own rounding."""

STOOD_S = 10.0
"""What rises after a container has stood for so long is a hand at it. Judged."""


def remounted(pan: Pan, time_s: float) -> Pan:
    """A pan that forgets what stood on it: something else is put there. The bench is the same."""
    return Pan(
        pan.resolution_kg,
        pan.lag_s,
        pan.fastest_kg_s,
        Path.HANDLED,
        time_s,
        unrest=pan.unrest.afresh(),
        stillness=pan.stillness.anew(),
    )


def last_good(pan: Pan, time_s: float) -> Pan:
    """The pan at `time_s`, or at the moment from which readings stopped to fit, if that is earlier."""
    return pan.weighed_at(min(time_s, pan.suspects[0][0]) if pan.suspects else time_s)


def on_its_way(pan: Pan, time_s: float, settling: Settling) -> tuple[Pan, float]:
    """The pan of a container opened at `time_s`, and a doubt of what it weighs, kg, if the scale had not come to rest.

    Where it was seen to be on its way to an end, that is the mass. Else, if it has not stood for long, it may go on for
    as far as it has risen since.
    """
    way = settling.way
    if way is not None and abs(way.end_kg - pan.mass_kg) > END_STEPS * pan.resolution_kg:
        known = Estimate(time_s, way.end_kg, 0.0, pan.reading_var)
        return pan.begun(known, 0.0, 0.0), WAY_SHARE_U * abs(settling.left_kg)
    if not pan.suspects or time_s - pan.rest.since_s > STOOD_S:
        return pan, 0.0
    return pan, max(pan.suspects[-1][1] - pan.mass_kg, 0.0)


def explained(pan: Pan, *, as_refrigerant: bool) -> Pan:
    """Settle the pending step: it was refrigerant that left, or the pan was handled."""
    if not as_refrigerant or pan.estimate is None:
        return replace(pan, accepted_offset_kg=pan.offset_kg, stood_kg=0.0)
    estimate = replace(pan.estimate, mass_kg=pan.estimate.mass_kg + pan.pending_offset_kg)
    offset_kg, u_kg = pan.accepted_offset_kg, pan.step_kg
    return replace(pan, estimate=estimate, offset_kg=offset_kg, offset_u_kg=u_kg, stood_kg=0.0)
