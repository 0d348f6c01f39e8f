"""Who gives how much. Two-can arithmetic is common practice, no source; factors of pound and ounce: NIST SP 811 B.8."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fillmark.engine.plan import Plan, Stock, grams, plan

LB_KG = 0.45359237
OZ_KG = 28.349523125e-3
mass = st.floats(0.0, 50.0, allow_nan=False)


def test_1_1_lb_from_12_oz_cans_is_one_whole_can_and_5_6_oz_of_the_next() -> None:
    made = plan(1.1 * LB_KG, 0.0, [Stock("C1", 12 * OZ_KG), Stock("C2", 12 * OZ_KG)])
    assert made.need_kg == pytest.approx(17.6 * OZ_KG, abs=1e-9)
    first, second = made.drafts
    assert first.all_of_it
    assert first.take_kg == pytest.approx(12 * OZ_KG, abs=1e-9)
    assert second.take_kg == pytest.approx(5.6 * OZ_KG, abs=1e-9)
    assert second.left_kg == pytest.approx(6.4 * OZ_KG, abs=1e-9)
    assert not second.all_of_it
    assert made.short_kg == 0.0


def test_the_sentence_names_every_can_that_is_used() -> None:
    made = plan(0.498, 0.0, [Stock("C1", 0.340), Stock("C2", 0.340), Stock("C3", 0.340)])
    assert made.sentence() == "all of C1 (340 g), then 158 g of C2, 182 g stay in C2"


def test_what_the_hose_keeps_must_be_drawn_too() -> None:
    assert plan(0.5, 0.04, [Stock("C1", 1.0)]).drafts[0].take_kg == pytest.approx(0.54)


def test_a_heel_stays_in_its_container() -> None:
    made = plan(0.5, 0.0, [Stock("C1", 0.4, heel_kg=0.1), Stock("C2", 0.4)])
    assert made.drafts[0].take_kg == pytest.approx(0.3)
    assert made.drafts[0].left_kg == pytest.approx(0.1)
    assert made.drafts[0].all_of_it


def test_too_little_is_said() -> None:
    made = plan(0.5, 0.0, [Stock("C1", 0.34)])
    assert made.short_kg == pytest.approx(0.16)
    assert made.sentence() == "all of C1 (340 g); 160 g are missing"


def test_nothing_to_draw() -> None:
    assert plan(0.0, 0.0, [Stock("C1", 0.34)]).sentence() == "nothing to draw"
    assert plan(0.0, 0.0, []).sentence() == "nothing to draw"


@given(aim=mass, hose=st.floats(0.0, 1.0), stocks=st.lists(st.tuples(mass, mass), max_size=6))
def test_what_is_taken_and_what_is_missing_make_the_need(
    aim: float, hose: float, stocks: list[tuple[float, float]]
) -> None:
    made: Plan = plan(aim, hose, [Stock(f"C{i}", net, heel) for i, (net, heel) in enumerate(stocks)])
    taken = sum(draft.take_kg for draft in made.drafts)
    assert taken + made.short_kg == pytest.approx(made.need_kg, abs=1e-6)
    for draft, (net, heel) in zip(made.drafts, stocks, strict=True):
        assert 0.0 <= draft.take_kg <= max(net - heel, 0.0)
        assert draft.left_kg == pytest.approx(net - draft.take_kg)


@pytest.mark.parametrize(("kg", "text"), [(0.3401, "340 g"), (-0.0001, "0 g"), (0.0, "0 g"), (4.0, "4000 g")])
def test_grams_for_people(kg: float, text: str) -> None:
    assert grams(kg) == text
