"""What hands do to the pan: they put a container on it, take it off, and somebody says what they did."""

from __future__ import annotations

from dataclasses import replace

from fillmark.engine.weighing.pan import Pan
from fillmark.engine.weighing.path import Path


def remounted(pan: Pan, time_s: float) -> Pan:
    """A pan that forgets what stood on it: something else is put there. The bench is the same."""
    return Pan(pan.resolution_kg, pan.lag_s, pan.fastest_kg_s, Path.HANDLED, time_s, unrest=pan.unrest.afresh())


def last_good(pan: Pan, time_s: float) -> Pan:
    """The pan at `time_s`, or at the moment from which readings stopped to fit, if that is earlier."""
    return pan.at(min(time_s, pan.suspects[0][0]) if pan.suspects else time_s)


def explained(pan: Pan, *, as_refrigerant: bool) -> Pan:
    """Settle the pending step: it was refrigerant that left, or the pan was handled."""
    if not as_refrigerant or pan.estimate is None:
        return replace(pan, accepted_offset_kg=pan.offset_kg, stood_kg=0.0)
    estimate = replace(pan.estimate, mass_kg=pan.estimate.mass_kg + pan.pending_offset_kg)
    offset_kg, u_kg = pan.accepted_offset_kg, pan.step_kg
    return replace(pan, estimate=estimate, offset_kg=offset_kg, offset_u_kg=u_kg, stood_kg=0.0)
