"""What the bench does to the pan: it shakes, which is found in the indications and then reckoned with."""

from __future__ import annotations

from dataclasses import replace

from fillmark.engine.weighing import suspicion
from fillmark.engine.weighing.pan import STEPS_OF_NOISE, Pan
from fillmark.engine.weighing.path import Path
from fillmark.engine.weighing.unrest import most_kg

FOUND_S = 40.0
"""So soon after the flow has begun a bench that shakes is found; later it has begun to shake."""


def shaken(pan: Pan, time_s: float, indication_kg: float) -> Pan:
    """The pan once an indication, not yet taken, has told what the bench does."""
    if pan.path is not Path.OPEN:
        pan = replace(pan, stillness=pan.stillness.read(indication_kg, pan.resolution_kg))
    if not _shows_unrest(pan):
        return replace(pan, unrest=pan.unrest.afresh()) if pan.unrest.kept else pan
    unrest = pan.unrest.seen(time_s, indication_kg, pan.resolution_kg)
    if unrest is pan.unrest:
        return pan
    known = replace(pan, unrest=unrest)
    found = unrest.rms_kg > pan.unrest.rms_kg and time_s - pan.surges_until_s <= FOUND_S
    return _calmed(known) if found else known


def shaken_when_weighed(pan: Pan, time_s: float) -> bool:
    """Whether the bench has shaken before the container was opened, too, so far as that is known."""
    return pan.unrest.rms_kg > 0.0 and time_s - pan.fed_s <= FOUND_S


def _shows_unrest(pan: Pan) -> bool:
    """Whether hands are off, nothing large leans on the pan, and the container can only grow lighter."""
    most = suspicion.GATE_STEPS * STEPS_OF_NOISE * most_kg(pan.resolution_kg)
    return pan.path is not Path.HANDLED and pan.least_kg_s == 0.0 and abs(pan.pending_offset_kg) <= most


def _calmed(pan: Pan) -> Pan:
    """The pan without what shaking may have feigned since a valve was opened: it was taken for pulls."""
    now, feigned_kg = pan.estimate, pan.pending_offset_kg - pan.stood_kg
    shown = None if now is None else replace(now, mass_kg=now.mass_kg + feigned_kg)
    if shown is None or abs(shown.mass_kg - pan.mass_kg) > suspicion.GATE_STEPS * pan.step_kg:
        return pan
    u_kg = 0.0 if pan.stood_kg == 0.0 else pan.offset_u_kg
    return replace(pan.begun(shown, pan.accepted_offset_kg + pan.stood_kg, u_kg), readings=pan.readings)
