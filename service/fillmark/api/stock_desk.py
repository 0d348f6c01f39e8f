"""Keeps the stock beside the jobs: the fold of its own entries, in the same log."""

from __future__ import annotations

import json
from collections.abc import Iterable

from fillmark.engine.workshop import Workshop
from fillmark.intake.stock import CHANNEL, stock_action
from fillmark.stock import ledger as books
from fillmark.stock.ledger import Ledger
from fillmark.store.log import LogEntry
from fillmark.wire.senml import Record


class StockDesk:
    """The ledger, and the time of its last entry."""

    def __init__(self) -> None:
        self.ledger = Ledger()
        self.last_s = 0.0

    def tried(self, text: str, position: int, time_s: float, workshop: Workshop) -> Ledger:
        """The ledger with one more entry; nothing is kept.

        Raises:
            IntakeError: the entry cannot be read.
            StockRefusedError: it does not fit.
        """
        return books.step(self.ledger, position, time_s, stock_action(json.loads(text)), workshop.jobs)

    def remember(self, entry: LogEntry, records: Iterable[Record], workshop: Workshop) -> None:
        """Fold the entries of the stock that an entry of the log holds. Raises as `tried` does."""
        for record in records:
            if record.name == CHANNEL and record.text is not None:
                self.ledger = self.tried(record.text, entry.position, record.time_s, workshop)
                self.last_s = max(self.last_s, record.time_s)
