"""The stock's own entries: each fits or is refused and changes nothing, and what is left is the sum of the moves."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fillmark.intake.events import IntakeError
from fillmark.intake.stock import stock_action
from fillmark.refrigerants.gwp import Edition
from fillmark.stock.ledger import Ledger, StockRefusedError, step
from fillmark.stock.moves import left_of, moves_of
from fillmark.stock.summary import FLOWS, MOVED, summary
from fillmark.wire.stock import STOCK_TYPES

NEW_YEAR = datetime(2027, 1, 1, tzinfo=UTC).timestamp()
DAY = 86_400.0


class Book:
    """A ledger that is written in, a minute an entry."""

    def __init__(self, at_s: float = NEW_YEAR) -> None:
        self.ledger = Ledger()
        self.at_s = at_s
        self.position = 0

    def enter(self, type_: str, **fields: Any) -> int:  # noqa: ANN401 - any JSON
        self.position += 1
        self.at_s += 60.0
        self.ledger = step(self.ledger, self.position, self.at_s, stock_action({"type": type_, **fields}), {})
        return self.position

    def refused(self, type_: str, **fields: Any) -> str:  # noqa: ANN401 - any JSON
        before = self.ledger
        with pytest.raises(StockRefusedError) as caught:
            self.enter(type_, **fields)
        assert self.ledger is before
        assert caught.value.detail
        return caught.value.code

    def left(self, name: str = "C1") -> float:
        holding = self.ledger.current(name)
        assert holding is not None
        return left_of(moves_of(holding, ()))[0]

    def rows(self, year: int) -> dict[str, float]:
        rows = summary(self.ledger, {}, year, Edition.AR4)["rows"]
        return {row["flow"]: row["mass_kg"] for row in rows}


@pytest.fixture
def book() -> Book:
    made = Book()
    made.enter("purchase", container="C1", net="13.6 kg", refrigerant="r134a", tare="3 kg", supplier="Weir & Sons")
    return made


def test_what_is_left_is_the_sum_of_the_moves(book: Book) -> None:
    book.enter("use", container="C1", mass="600 g", reason="topped up by hand")
    book.enter("recovery", container="C1", mass="100 g", reason="hose emptied into it")
    assert book.left() == pytest.approx(13.1)
    holding = book.ledger.current("C1")
    assert holding is not None
    assert holding.purchase.refrigerant == "R-134a"
    assert [move.kind for move in moves_of(holding, ())] == ["purchased", "used", "recovered"]


def test_a_weighing_decides_and_its_difference_is_booked(book: Book) -> None:
    book.enter("use", container="C1", mass="600 g", reason="x")
    book.enter("weighing", container="C1", gross="15.5 kg")
    assert book.left() == pytest.approx(12.5)
    book.enter("use", container="C1", mass="500 g", reason="entered late", on="2027-01-01")
    assert book.left() == pytest.approx(12.0)
    assert book.rows(2027)["difference"] == pytest.approx(-0.5)


def test_after_its_return_nothing_is_left_and_the_name_is_free(book: Book) -> None:
    book.enter("return", container="C1", mass="13 kg", to="Weir & Sons")
    assert book.ledger.current("C1") is None
    assert book.rows(2027) == {
        "opening": 0.0, "purchased": 13.6, "recovered": 0.0, "used": 0.0, "returned": -13.0, "difference": -0.6,
        "closing": 0.0, "used_outside_stock": 0.0, "recovered_outside_stock": 0.0, "charged_into_circuits": 0.0,
    }  # fmt: skip
    book.enter("purchase", container="C1", net="0.34 kg", refrigerant="R-1234yf")
    assert book.left() == pytest.approx(0.34)


def test_without_a_mass_all_that_is_left_is_returned(book: Book) -> None:
    book.enter("use", container="C1", mass="3.6 kg", reason="x")
    book.enter("return", container="C1")
    rows = book.rows(2027)
    assert (rows["returned"], rows["difference"], rows["closing"]) == (-10.0, 0.0, 0.0)


def test_years_follow_one_another(book: Book) -> None:
    book.enter("use", container="C1", mass="600 g", reason="x")
    book.at_s = NEW_YEAR + 370 * DAY
    book.enter("use", container="C1", mass="1 kg", reason="x")
    first, second, before = book.rows(2027), book.rows(2028), book.rows(2026)
    assert first["closing"] == second["opening"] == pytest.approx(13.0)
    assert second["closing"] == pytest.approx(12.0)
    assert before == {}


def test_a_day_of_its_own_puts_an_entry_into_its_year(book: Book) -> None:
    book.enter("purchase", container="C2", net="1 kg", refrigerant="R-134a", on="2026-12-31")
    assert book.rows(2026)["purchased"] == 1.0
    assert book.rows(2027)["opening"] == 1.0
    assert book.refused("use", container="C2", mass="1 g", reason="x", on="2026-12-30") == "before-purchase"
    assert book.refused("use", container="C2", mass="1 g", reason="x", on="2027-01-02") == "in-the-future"


def test_a_cancelled_entry_counts_no_more(book: Book) -> None:
    used = book.enter("use", container="C1", mass="600 g", reason="x")
    book.enter("cancel", entry=used, reason="another container")
    assert book.left() == pytest.approx(13.6)
    assert book.refused("cancel", entry=used, reason="again") == "unknown-entry"
    returned = book.enter("return", container="C1")
    book.enter("cancel", entry=returned, reason="it stayed")
    assert book.left() == pytest.approx(13.6)
    book.enter("use", container="C1", mass="1 g", reason="x")
    assert book.refused("cancel", entry=1, reason="not ours") == "used-since"


def test_a_purchase_can_be_cancelled_while_nothing_came_after(book: Book) -> None:
    book.enter("cancel", entry=1, reason="not ours")
    assert book.ledger == Ledger()
    book.enter("purchase", container="C1", net="1 kg", refrigerant="R-134a")
    returned = book.enter("return", container="C1")
    book.enter("purchase", container="C1", net="2 kg", refrigerant="R-134a")
    assert book.refused("cancel", entry=returned, reason="x") == "container-in-stock"


def test_a_tare_said_at_one_weighing_serves_the_next_even_when_that_is_cancelled(book: Book) -> None:
    book.enter("purchase", container="C2", net="1 kg", refrigerant="R-134a")
    assert book.refused("weighing", container="C2", gross="2 kg") == "tare-unknown"
    first = book.enter("weighing", container="C2", gross="2 kg", tare="1.2 kg")
    book.enter("weighing", container="C2", gross="1.9 kg")
    book.enter("cancel", entry=first, reason="x")
    assert book.left("C2") == pytest.approx(0.7)


def test_what_does_not_fit_is_refused_and_changes_nothing(book: Book) -> None:
    assert book.refused("purchase", container="C1", net="1 kg", refrigerant="R-134a") == "container-in-stock"
    assert book.refused("use", container="C9", mass="1 g", reason="x") == "unknown-container"
    assert book.refused("weighing", container="C1", gross="2 kg") == "below-tare"
    assert book.refused("cancel", entry=77, reason="x") == "unknown-entry"
    book.enter("return", container="C1")
    assert book.refused("use", container="C1", mass="1 g", reason="x") == "unknown-container"
    old = {"container": "C1", "net": "1 kg", "refrigerant": "R-134a", "on": "2026-12-01"}
    assert book.refused("purchase", **old) == "before-return"


@pytest.mark.parametrize(
    ("raw", "field", "accepted"),
    [
        ({"type": "theft"}, "/type", "purchase, use"),
        ({"type": "purchase", "container": "C1"}, "/net", "add it"),
        ({"type": "purchase", "container": "C1", "net": "1 kg"}, "/refrigerant", "name the refrigerant"),
        ({"type": "purchase", "container": "C1", "net": "1 kg", "refrigerant": "R-12"}, "/refrigerant", "R-134a"),
        ({"type": "purchase", "container": "C1", "net": 1, "refrigerant": "R-134a"}, "/net", "net_kg"),
        ({"type": "use", "container": "C1", "mass": "0 g", "reason": "x"}, "/mass", "more than 0"),
        ({"type": "use", "container": "C1", "mass": "1 g"}, "/reason", "add it"),
        ({"type": "use", "container": "C1", "mass": "1 g", "reason": "x", "on": "yesterday"}, "/on", "2026-03-01"),
        ({"type": "use", "container": "C1", "mass": "1 g", "reason": "x", "on": 20260301}, "/on", "2026-03-01"),
        ({"type": "cancel", "entry": "7", "reason": "x"}, "/entry", "such as 12"),
        ([], "", '{"type"'),
    ],
)
def test_what_cannot_be_read_names_its_field_and_what_would_do(raw: object, field: str, accepted: str) -> None:
    with pytest.raises(IntakeError) as caught:
        stock_action(raw)
    assert caught.value.field == field
    assert accepted in caught.value.accepted


masses = st.floats(0.001, 20.0).map(lambda kg: f"{kg:.3f} kg")
entries = st.one_of(
    st.fixed_dictionaries({"type": st.just("purchase"), "net": masses, "tare": st.just("1 kg"),
                           "refrigerant": st.sampled_from(["R-134a", "R-32"])}),
    st.fixed_dictionaries({"type": st.sampled_from(["use", "recovery"]), "mass": masses, "reason": st.just("x")}),
    st.fixed_dictionaries({"type": st.just("weighing"), "gross": masses}),
    st.fixed_dictionaries({"type": st.just("return")}, optional={"mass": masses}),
)  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(entries, st.sampled_from(["C1", "C2"]), st.integers(0, 40)), max_size=30))
def test_every_year_of_every_history_adds_up(history: list[tuple[dict[str, Any], str, int]]) -> None:
    book = Book()
    for entry, name, days in history:
        book.at_s += days * DAY
        try:
            book.enter(entry["type"], container=name, **{k: v for k, v in entry.items() if k != "type"})
        except StockRefusedError:
            continue
    closing: dict[str, float] = {}
    for year in range(2026, 2031):
        rows = summary(book.ledger, {}, year, Edition.AR4)["rows"]
        assert {row["flow"] for row in rows} in (set(), set(FLOWS))
        for name in {row["refrigerant"] for row in rows}:
            flows = {row["flow"]: row["mass_kg"] for row in rows if row["refrigerant"] == name}
            assert flows["opening"] == pytest.approx(closing.get(name, 0.0), abs=1e-4)
            assert flows["opening"] + sum(flows[flow] for flow in MOVED) == pytest.approx(flows["closing"], abs=1e-4)
            closing[name] = flows["closing"]
    held = sum(left_of(moves_of(one, ()))[0] for one in book.ledger.holdings if one.returned is None)
    assert sum(closing.values()) == pytest.approx(held, abs=1e-3)


def test_every_type_of_entry_is_among_these() -> None:
    assert set(STOCK_TYPES) == {"purchase", "use", "recovery", "weighing", "return", "cancel"}


def test_co2_equivalents_follow_the_edition() -> None:
    # US EPA, help on greenhouse gas reporting, answer A287: 20 t of R-410A are 41,750 t of CO2 equivalent (AR4).
    book = Book()
    for index in range(10):
        book.enter("purchase", container=f"C{index}", net="2000 kg", refrigerant="R-410A")
    rows = {row["flow"]: row for row in summary(book.ledger, {}, 2027, Edition.AR4)["rows"]}
    assert rows["purchased"]["co2e_t"] == pytest.approx(41_750.0)
    assert rows["purchased"]["gwp_checked"] == "read"
    later = {row["flow"]: row for row in summary(book.ledger, {}, 2027, Edition.AR6)["rows"]}
    assert later["purchased"]["co2e_t"] == pytest.approx(20.0 * 2256.0, rel=1e-3)  # drawdown.org, figure 1 (read)


def test_what_nobody_stated_has_no_co2_equivalent() -> None:
    book = Book()
    book.enter("purchase", container="RC1", net="0 g", use="recovery")
    book.enter("recovery", container="RC1", mass="300 g", reason="scrapped machine")
    rows = summary(book.ledger, {}, 2027, Edition.AR4)["rows"]
    assert {row["refrigerant"] for row in rows} == {"not stated"}
    assert all(row["co2e_t"] is None and row["gwp100"] is None for row in rows)
