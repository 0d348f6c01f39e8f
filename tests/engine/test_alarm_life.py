"""The life of a stop point: every state against every trigger.

Names of states: IEC 62682:2014 and ISA-18.2-2016 (names only; letters differ between implementations, from memory).
"""

from __future__ import annotations

import itertools

import pytest

from fillmark.engine.alarm_life import ACTIVE, ASIDE, SHOWN, TRANSITIONS, Life, Trigger, after

IEC_62682_NAMES = {
    "normal",
    "unacknowledged active",
    "acknowledged active",
    "returned to normal unacknowledged",
    "latched unacknowledged",
    "latched acknowledged",
    "shelved",
    "suppressed by design",
    "out of service",
}

SPEAKING = ("unacknowledged active", "acknowledged active")
GONE = ("returned to normal unacknowledged", "latched unacknowledged", "latched acknowledged")

# Written by hand from the standard's state diagram, not from the table under test.
EXPECTED: dict[tuple[str, str], str] = {
    ("normal", "raise"): "unacknowledged active",
    ("unacknowledged active", "acknowledge"): "acknowledged active",
    ("unacknowledged active", "clear"): "returned to normal unacknowledged",
    ("unacknowledged active", "clear, latching"): "latched unacknowledged",
    ("acknowledged active", "clear"): "normal",
    ("acknowledged active", "clear, latching"): "latched acknowledged",
    ("returned to normal unacknowledged", "raise"): "unacknowledged active",
    ("returned to normal unacknowledged", "acknowledge"): "normal",
    ("latched unacknowledged", "raise"): "unacknowledged active",
    ("latched unacknowledged", "acknowledge"): "latched acknowledged",
    ("latched unacknowledged", "reset"): "returned to normal unacknowledged",
    ("latched acknowledged", "raise"): "unacknowledged active",
    ("latched acknowledged", "reset"): "normal",
    ("shelved", "unshelve"): "normal",
    ("suppressed by design", "unsuppress"): "normal",
    ("out of service", "return to service"): "normal",
    **{
        (state, trigger): aside
        for state in ("normal", *SPEAKING, *GONE)
        for trigger, aside in (
            ("shelve", "shelved"),
            ("suppress", "suppressed by design"),
            ("remove from service", "out of service"),
        )
    },
}


def test_states_have_the_names_of_the_standard() -> None:
    assert {life.value for life in Life} == IEC_62682_NAMES


@pytest.mark.parametrize(("life", "trigger"), list(itertools.product(Life, Trigger)))
def test_every_state_answers_every_trigger(life: Life, trigger: Trigger) -> None:
    assert after(life, trigger) == EXPECTED.get((life.value, trigger.value))


def test_every_state_can_be_reached_and_left() -> None:
    reached = {target for row in TRANSITIONS.values() for target in row.values()}
    assert reached == set(Life)
    assert all(TRANSITIONS[life] for life in Life)


def test_a_display_shows_what_speaks_and_what_waits_for_somebody() -> None:
    assert {life.value for life in ACTIVE} == set(SPEAKING)
    assert {life.value for life in SHOWN} == {*SPEAKING, *GONE}
    assert not SHOWN & ASIDE
    assert set(Life) == {Life.NORMAL} | SHOWN | ASIDE
