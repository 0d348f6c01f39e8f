"""One made-up charge to count, and the command line within the test's process."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import pytest

from fillmark_sim.__main__ import main
from fillmark_sim.campaign import Live, Outcome


@dataclass(frozen=True)
class Ended:
    """How a command ended."""

    status: int
    out: str
    err: str


@pytest.fixture
def one() -> Outcome:
    """A charge that ended 1 g off, called once."""
    return Outcome(
        "clean", 1, 0.001, 0.001, 0.002, 0.0005, (0.004,), 0.03, calls=1, reached=True, false_call=False,
        live=(Live(0.001, 0.001, 0.0, (0.003,)), Live(0.003, 0.001, 0.004, (0.004,))),
    )  # fmt: skip


@pytest.fixture
def campaign(capsys: pytest.CaptureFixture[str]) -> Callable[..., Ended]:
    """`campaign("--count", 1)` as `python -m fillmark_sim campaign --count 1` does it."""

    def run(*arguments: object) -> Ended:
        try:
            status = main(["campaign", *(str(each) for each in arguments)])
        except SystemExit as error:
            status = int(error.code or 0)
        written = capsys.readouterr()
        return Ended(status, written.out, written.err)

    return run
