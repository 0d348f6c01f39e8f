"""From resolved records to events, by bay."""

from __future__ import annotations

import pytest

from fillmark.engine import events
from fillmark.intake.events import IntakeError, from_records
from fillmark.wire.senml import Record

T_S = 1_790_000_000.0


def test_events_come_by_bay_in_the_order_of_the_records() -> None:
    found = from_records(
        [
            Record("bay-1/scale/mass", T_S, unit="g", value=340.0),
            Record("bay-2/scale/stable", T_S + 1, flag=True),
            Record("bay-1/action", T_S + 2, text='{"type":"note","text":"dry"}'),
            Record("bay-1/vent/temperature", T_S - 3, unit="K", value=283.15),
            Record("bay-2/scale/stable", T_S + 4, flag=False),
        ]
    )
    assert list(found) == ["bay-1", "bay-2"]
    mass, note, air = found["bay-1"]
    assert isinstance(mass, events.Reading)
    assert (mass.channel, mass.time_s) == ("scale/mass", T_S)
    assert mass.value == pytest.approx(0.34)
    assert note == events.Note(T_S + 2, "dry")
    assert isinstance(air, events.Reading)
    assert (air.channel, air.time_s) == ("vent/temperature", T_S - 3)
    assert air.value == pytest.approx(10.0)
    assert found["bay-2"] == (
        events.Reading(T_S + 1, "scale/stable", 1.0),
        events.Reading(T_S + 4, "scale/stable", 0.0),
    )


def test_what_the_engine_does_not_know_is_no_event_but_its_bay_is_named() -> None:
    records = [Record("bay-3/tyre/wear", T_S, unit="mm", value=3.0), Record("bay-3/door/open", T_S, flag=True)]
    assert from_records(records) == {"bay-3": ()}


@pytest.mark.parametrize(
    ("record", "field"),
    [
        (Record("scale", T_S, unit="kg", value=1.0), "/1/n"),
        (Record("bay-1/scale/mass", T_S, unit="lb", value=1.0), "/1/u"),
        (Record("bay-1/scale/mass", T_S, unit="kg", value=-1.0), "/1/v"),
        (Record("bay-1/scale/stable", T_S, value=1.0), "/1/vb"),
        (Record("bay-1/action", T_S, value=1.0), "/1/vs"),
        (Record("bay-1/action", T_S, text="{"), "/1/vs"),
        (Record("bay-1/action", T_S, text="[" * 100_000), "/1/vs"),
        (Record("bay-1/action", T_S, text="[]"), "/1/vs"),
        (Record("bay-1/action", T_S, text='{"type":"purge","mass_kg":NaN}'), "/1/vs/mass_kg"),
        (
            Record("bay-1/action", T_S, text='{"type":"container.mount","container":"C1","refrigerant":"beer"}'),
            "/1/vs/refrigerant",
        ),
    ],
    ids=lambda value: str(value)[:60],
)
def test_a_refusal_points_into_the_pack_and_says_what_would_do(record: Record, field: str) -> None:
    with pytest.raises(IntakeError) as caught:
        from_records([Record("bay-1/vent/temperature", T_S, unit="Cel", value=20.0), record])
    assert caught.value.field == field
    assert caught.value.problem
    assert caught.value.accepted
