"""The table of conditions is whole, and its directions are those of the published fault table."""

from __future__ import annotations

import pytest

from fillmark.engine.performance.conditions import ADVICE, FAULTS, PROGRESS, SHIFTS, Condition, Feature, Layout, shifted
from fillmark.engine.performance.diagnosis import HOW_TO_READ

# Rossi and Braun, HVAC&R Research 3 (1997) 19, as table 1-1 of a thesis on rooftop air conditioners repeats it
# (yumpu.com, document 28133799): evaporating, superheat, condensing, subcooling.
PUBLISHED = {
    Condition.UNDERCHARGE: (-1, +1, -1, -1),
    Condition.COMPRESSOR_WEAK: (+1, -1, -1, -1),
    Condition.RESTRICTED: (-1, +1, -1, +1),
    Condition.CONDENSER_AIRFLOW: (+1, -1, +1, -1),
}
COLUMNS = (Feature.EVAPORATING, Feature.SUPERHEAT, Feature.OVER_AMBIENT, Feature.SUBCOOLING)

# An accumulator's charge stacks up in the condenser behind a narrowed orifice tube; the published machines have none.
STACKS_UP = (Layout.ORIFICE_AND_ACCUMULATOR, Condition.RESTRICTED, Feature.OVER_AMBIENT)


@pytest.mark.parametrize("layout", Layout)
@pytest.mark.parametrize("condition", PUBLISHED)
def test_directions_are_the_published_ones(layout: Layout, condition: Condition) -> None:
    for feature, sign in zip(COLUMNS, PUBLISHED[condition], strict=True):
        if (layout, condition, feature) != STACKS_UP:
            assert SHIFTS[layout][condition][feature] * sign > 0.0, (feature, sign)


def test_every_member_has_its_entries() -> None:
    assert set(ADVICE) == set(Condition)
    assert set(HOW_TO_READ) == set(Feature)
    assert set(SHIFTS) == set(Layout)
    for layout in Layout:
        assert set(SHIFTS[layout]) == set(FAULTS)
        for condition in FAULTS:
            assert set(SHIFTS[layout][condition]) == set(Feature)


@pytest.mark.parametrize("layout", Layout)
def test_a_fault_grows_with_its_severity_and_is_whole_when_severe(layout: Layout) -> None:
    for condition in FAULTS:
        for feature in Feature:
            sizes = [abs(shifted(layout, condition, feature, s)) for s in (0.25, 0.5, 0.75, 1.0)]
            assert sizes == sorted(sizes)
            assert shifted(layout, condition, feature, 1.0) == SHIFTS[layout][condition][feature]
    assert shifted(layout, Condition.HEALTHY, Feature.VENT, 1.0) == 0.0


def test_no_advice_suggests_release() -> None:
    for text in ADVICE.values():
        assert "vent" not in text.lower().split()
        assert "release" not in text.lower()
    assert all(condition in FAULTS for _, condition in PROGRESS)
