"""The life of a stop point: states and transitions by the names of IEC 62682:2014 (state letters are not used).

The table is the rule; a trigger that is not in a state's row does not apply in that state.
Shelving, suppression by design and out of service follow clause 11 and 12 of the standard in name (from memory).
"""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum


class Life(StrEnum):
    """State of one stop point."""

    NORMAL = "normal"
    UNACKNOWLEDGED_ACTIVE = "unacknowledged active"
    ACKNOWLEDGED_ACTIVE = "acknowledged active"
    RETURNED_UNACKNOWLEDGED = "returned to normal unacknowledged"
    LATCHED_UNACKNOWLEDGED = "latched unacknowledged"
    LATCHED_ACKNOWLEDGED = "latched acknowledged"
    SHELVED = "shelved"
    SUPPRESSED_BY_DESIGN = "suppressed by design"
    OUT_OF_SERVICE = "out of service"


class Trigger(StrEnum):
    """What moves a stop point from state to state."""

    RAISE = "raise"
    CLEAR = "clear"
    CLEAR_LATCHING = "clear, latching"
    ACKNOWLEDGE = "acknowledge"
    RESET = "reset"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    SUPPRESS = "suppress"
    UNSUPPRESS = "unsuppress"
    REMOVE_FROM_SERVICE = "remove from service"
    RETURN_TO_SERVICE = "return to service"


_ASIDE: Mapping[Trigger, Life] = {
    Trigger.SHELVE: Life.SHELVED,
    Trigger.SUPPRESS: Life.SUPPRESSED_BY_DESIGN,
    Trigger.REMOVE_FROM_SERVICE: Life.OUT_OF_SERVICE,
}

TRANSITIONS: Mapping[Life, Mapping[Trigger, Life]] = {
    Life.NORMAL: {Trigger.RAISE: Life.UNACKNOWLEDGED_ACTIVE, **_ASIDE},
    Life.UNACKNOWLEDGED_ACTIVE: {
        Trigger.ACKNOWLEDGE: Life.ACKNOWLEDGED_ACTIVE,
        Trigger.CLEAR: Life.RETURNED_UNACKNOWLEDGED,
        Trigger.CLEAR_LATCHING: Life.LATCHED_UNACKNOWLEDGED,
        **_ASIDE,
    },
    Life.ACKNOWLEDGED_ACTIVE: {
        Trigger.CLEAR: Life.NORMAL,
        Trigger.CLEAR_LATCHING: Life.LATCHED_ACKNOWLEDGED,
        **_ASIDE,
    },
    Life.RETURNED_UNACKNOWLEDGED: {
        Trigger.RAISE: Life.UNACKNOWLEDGED_ACTIVE,
        Trigger.ACKNOWLEDGE: Life.NORMAL,
        **_ASIDE,
    },
    Life.LATCHED_UNACKNOWLEDGED: {
        Trigger.RAISE: Life.UNACKNOWLEDGED_ACTIVE,
        Trigger.ACKNOWLEDGE: Life.LATCHED_ACKNOWLEDGED,
        Trigger.RESET: Life.RETURNED_UNACKNOWLEDGED,
        **_ASIDE,
    },
    Life.LATCHED_ACKNOWLEDGED: {
        Trigger.RAISE: Life.UNACKNOWLEDGED_ACTIVE,
        Trigger.RESET: Life.NORMAL,
        **_ASIDE,
    },
    Life.SHELVED: {Trigger.UNSHELVE: Life.NORMAL},
    Life.SUPPRESSED_BY_DESIGN: {Trigger.UNSUPPRESS: Life.NORMAL},
    Life.OUT_OF_SERVICE: {Trigger.RETURN_TO_SERVICE: Life.NORMAL},
}

ACTIVE = frozenset({Life.UNACKNOWLEDGED_ACTIVE, Life.ACKNOWLEDGED_ACTIVE})
"""The condition holds and the stop point speaks."""

SHOWN = ACTIVE | {Life.RETURNED_UNACKNOWLEDGED, Life.LATCHED_UNACKNOWLEDGED, Life.LATCHED_ACKNOWLEDGED}
"""A display must show it."""

ASIDE = frozenset({Life.SHELVED, Life.SUPPRESSED_BY_DESIGN, Life.OUT_OF_SERVICE})
"""The condition may hold, but the stop point is kept silent on purpose."""


def after(life: Life, trigger: Trigger) -> Life | None:
    """The state after a trigger; None where the trigger does not apply."""
    return TRANSITIONS[life].get(trigger)
