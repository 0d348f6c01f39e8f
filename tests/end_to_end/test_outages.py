"""Kills and outages in the middle of a charge, with real processes.

The promises under test are of the product's own design: an acknowledged reading survives kill -9, a reading is never
counted twice and never dropped, and replaying a log gives the same state. The truth is that of the simulated bay, whose
balance is checked against tables elsewhere. The technician of these charges does not look at the display, so the very
same charge happens whatever becomes of the service.
"""

from __future__ import annotations

import signal
import time
from collections.abc import Callable, Iterable
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from fillmark.wire.senml import Record, decode
from fillmark_sim import scenarios
from fillmark_sim.bay import Bay

SCENARIO, SEED = "harvester-clean", 7
DEVICE = f'driver = "simulated"\nscenario = "{SCENARIO}"\nseed = {SEED}'
STREAM = Path(__file__).parents[2] / "demo_streams" / "camper-liquid-then-vapour.senml.jsonl"
STAMP_S = 0.002
"""Stamps are whole milliseconds, so two runs that begin at different fractions of one differ by as much."""

OpenShop = Callable[..., Any]
Wait = Callable[..., None]
Replayed = Callable[[str], dict[str, Any]]


@cache
def simulated() -> tuple[tuple[Record, ...], float]:
    """Everything the bay sends from the opening of the job on, in order of arrival, and the true charge, kg."""
    bay = Bay(scenarios.get(SCENARIO), SEED)
    records = from_opening(record for pack in bay.packs() for record in pack.records)
    return tuple(records), bay.truth.charged_kg


def from_opening(records: Iterable[Record]) -> list[Record]:
    """Without what came before the job was opened."""
    every = list(records)
    first = next(index for index, record in enumerate(every) if "job.open" in (record.text or ""))
    return every[first:]


def identity(record: Record) -> tuple[str, float]:
    return record.name, record.time_s


def content(record: Record) -> tuple[str, float | None, str | None, bool | None]:
    return record.name, record.value, record.text, record.flag


def place(record: Record, begun_s: float, expected: tuple[Record, ...]) -> int:
    """Where a record of a bay whose job was opened at `begun_s` stands among the expected ones."""
    after_s = record.time_s - begun_s
    return next(
        index
        for index, one in enumerate(expected)
        if one.name == record.name and abs(one.time_s - expected[0].time_s - after_s) <= STAMP_S
    )


def assert_none_twice_none_missing(found: list[Record], expected: tuple[Record, ...]) -> None:
    """The expected records up to the job's closing at least, in their order, each once, at the same distances."""
    identities = [identity(record) for record in found]
    assert len(set(identities)) == len(identities)
    assert [content(record) for record in found] == [content(record) for record in expected[: len(found)]]
    shift_s = found[0].time_s - expected[0].time_s
    distances = (abs(a.time_s - b.time_s - shift_s) for a, b in zip(found, expected, strict=False))
    assert max(distances) <= STAMP_S
    assert any("job.close" in (record.text or "") for record in found)


def folded(view: dict[str, Any]) -> dict[str, Any]:
    """A job of the API as far as it comes from the log: without the answer's time and the refrigerant's cautions."""
    return {key: value for key, value in view.items() if key not in {"now", "safety", "judged_at"}} | {
        "now": view["judged_at"]
    }


def holds_back(shop: Any, agent: Any, records: int) -> bool:  # noqa: ANN401 - classes of the conftest
    """Hold the agent if so many records wait in its spool; otherwise it goes on."""
    agent.signal(signal.SIGSTOP)
    if len(shop.spooled()) >= records:
        return True
    agent.signal(signal.SIGCONT)
    return False


def test_a_killed_service_goes_on_where_it_was(shop: OpenShop, wait: Wait, replayed: Replayed) -> None:
    expected, true_kg = simulated()
    undisturbed, struck = shop("undisturbed", 40.0), shop("struck", 40.0)
    service, other_service = struck.start(), undisturbed.start()
    struck.answering(service)
    agent = struck.agent(DEVICE)
    undisturbed.answering(other_service)
    undisturbed.agent(DEVICE)
    wait("100 g in the circuit", lambda: struck.holds(0.1))
    service.kill()
    wait("the agent to spool", lambda: holds_back(struck, agent, 20))
    struck.serve()
    survived = struck.logged()
    acknowledged = place(struck.spooled()[0], survived[0].time_s, expected)
    assert acknowledged > 200
    assert [content(record) for record in survived[:acknowledged]] == [content(r) for r in expected[:acknowledged]]
    assert 0.1 < struck.job()["charged_kg"] < 0.5
    agent.signal(signal.SIGCONT)

    view, other = struck.until_closed(), undisturbed.until_closed()
    assert view["charged_kg"] == pytest.approx(other["charged_kg"], abs=0.001)
    assert view["charged_kg"] == pytest.approx(true_kg, abs=0.005)
    assert_none_twice_none_missing(struck.logged(), expected)
    assert_none_twice_none_missing(undisturbed.logged(), expected)
    for each, shown in ((struck, view), (undisturbed, other)):
        assert replayed(each.exported()) == folded(shown)


def test_a_long_outage_costs_no_reading(shop: OpenShop, wait: Wait, replayed: Replayed) -> None:
    expected, true_kg = simulated()
    away = shop("away", 100.0)
    agent = away.agent(DEVICE)
    # Two thirds of the charge happen with no service at all.
    wait("the agent to spool", lambda: holds_back(away, agent, len(expected) * 2 // 3))
    agent.signal(signal.SIGCONT)
    away.serve()
    view = away.until_closed()
    assert_none_twice_none_missing(away.logged(), expected)
    assert view["charged_kg"] == pytest.approx(true_kg, abs=0.005)
    assert replayed(away.exported()) == folded(view)


def test_a_killed_agent_loses_nothing_that_was_spooled(shop: OpenShop, wait: Wait, replayed: Replayed) -> None:
    """The device is a recorded stream with its own times: the second start reads the very same readings again."""
    recorded = [
        record for line in STREAM.read_text(encoding="utf-8").splitlines() for record in decode(line, now_s=0.0)
    ]
    speed, begin_s = 40.0, recorded[0].time_s
    struck = shop("agent", speed, (speed * time.time() - begin_s) / (speed - 1.0))
    assert struck.now_s() == pytest.approx(begin_s, abs=10.0)
    device = f'driver = "recorded"\npath = "{STREAM}"\ntimes = "original"'
    service, agent = struck.serve(), struck.agent(device)
    wait("100 g in the circuit", lambda: struck.holds(0.1))
    service.signal(signal.SIGSTOP)
    wait("the agent to spool", lambda: holds_back(struck, agent, 20))
    agent.kill()
    spooled = {identity(record) for record in struck.spooled()}
    assert len(spooled) >= 20
    service.signal(signal.SIGCONT)
    again = struck.agent(device)
    wait("the spool to drain", lambda: spooled <= {identity(record) for record in struck.logged()})
    assert again.process.wait(60.0) == 0, again.said
    assert struck.spooled() == []
    assert [*map(identity, struck.logged())] == [*map(identity, from_opening(recorded))][: len(struck.logged())]
    view = struck.until_closed()
    assert view["charged_kg"] == pytest.approx(replayed(STREAM.read_text(encoding="utf-8"))["charged_kg"], abs=0.001)
    assert replayed(struck.exported()) == folded(view)
