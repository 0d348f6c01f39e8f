"""The spool against a plain list: whatever is done in whatever order, they hold the same."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, invariant, precondition, rule

from fillmark.wire.senml import Record, decode
from fillmark_agent.device import Pack
from fillmark_agent.spool import Limits, Refused, Spool

BOUND = 60


class SpoolAgainstList(RuleBasedStateMachine):
    """A list of packs and three counts are the model."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp())
        self.model: list[Pack] = []
        self.made = self.refused = self.lost = 0
        self.spool = self.open()

    def open(self) -> Spool:
        return Spool(self.folder / "spool.sqlite", Limits(records=BOUND))

    def teardown(self) -> None:
        self.spool.close()
        shutil.rmtree(self.folder)

    @rule(sizes=st.lists(st.integers(1, 7), min_size=1, max_size=5))
    def append(self, sizes: list[int]) -> None:
        packs = []
        for size in sizes:
            numbers = range(self.made, self.made + size)
            self.made += size
            packs.append(tuple(Record("b/scale/mass", 1.8e9 + n, unit="kg", value=1.0) for n in numbers))
        self.spool.append(packs)
        self.model += packs
        while sum(map(len, self.model)) > BOUND:
            self.lost += len(self.model.pop(0))

    @rule(records=st.integers(1, 20))
    def deliver(self, records: int) -> None:
        rows = self.spool.peek(records, 10**6)
        self.spool.settle(rows)
        del self.model[: len(rows)]

    @precondition(lambda self: self.model)
    @rule()
    def refuse_the_oldest(self) -> None:
        rows = self.spool.peek(1, 10**6)
        self.spool.settle(rows, [Refused(422, "t", "p", rows[0].body.decode())])
        del self.model[0]
        self.refused += 1

    @rule()
    def reopen(self) -> None:
        self.spool.close()
        self.spool = self.open()

    @invariant()
    def both_hold_the_same(self) -> None:
        assert [decode(row.body, now_s=0.0) for row in self.spool.peek(10**9, 10**9)] == self.model
        stats = self.spool.stats
        assert (stats.packs, stats.records) == (len(self.model), sum(map(len, self.model)))
        assert (stats.lost, stats.refused) == (self.lost, self.refused)


TestSpoolAgainstList = SpoolAgainstList.TestCase
TestSpoolAgainstList.settings = settings(max_examples=15, stateful_step_count=20, deadline=None)
