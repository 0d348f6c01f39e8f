"""What is under trial is found by name; the product's own is one of them, and any other can be scored as well."""

from __future__ import annotations

import json
from collections.abc import Collection, Sequence
from dataclasses import dataclass

import pytest

from fillmark.intake.weigher import ReplayWeigher
from fillmark.wire.senml import Record
from fillmark_sim.campaign import UnknownWeigherError, Weigher, load_weigher, run_charge
from fillmark_sim.campaign.charge import SilentWeigherError


@dataclass(frozen=True)
class Shown:
    at_s: float | None
    charged_kg: float
    charged_u_kg: float
    dispensed_kg: float


class FirstLessLast:
    """What a paper and a pencil do: the indication when the first valve was opened, less the last one."""

    def __init__(self, *, speaks: bool = True) -> None:
        self.speaks = speaks
        self.aim_kg = self.start_kg = self.now_kg = 0.0
        self.now_s: float | None = None
        self.calls: list[float] = []

    def take(self, records: Sequence[Record], arrival_s: float) -> None:
        for record in records:
            if record.text is not None:
                action = json.loads(record.text)
                if action["type"] == "job.open":
                    self.aim_kg = float(action["circuit"]["charge_min"].removesuffix(" g")) * 1e-3
                elif action["type"] == "valve" and not self.start_kg:
                    self.start_kg = self.now_kg
            elif record.name.endswith("scale/mass") and record.value is not None:
                self.now_s, self.now_kg = record.time_s, record.value
        if self.start_kg and not self.calls and self.start_kg - self.now_kg >= self.aim_kg:
            self.calls.append(arrival_s)

    def weighed(self) -> Shown | None:
        return Shown(self.now_s, self.start_kg - self.now_kg, 0.0, self.start_kg - self.now_kg) if self.speaks else None

    def active(self) -> Collection[str]:
        return ["aim-reached"] if self.calls else []

    def called_at_s(self) -> Sequence[float]:
        return self.calls


def test_the_product_is_found_by_its_name() -> None:
    assert isinstance(load_weigher("Fillmark")(), ReplayWeigher)
    weigher: Weigher = ReplayWeigher()
    assert weigher.weighed() is None
    assert list(weigher.called_at_s()) == []


def test_an_unknown_weigher_is_refused_with_the_names_there_are() -> None:
    with pytest.raises(UnknownWeigherError, match="Fillmark"):
        load_weigher("nobody's")


def test_any_weigher_can_be_scored() -> None:
    outcome = run_charge("clean", 5, 1e-3, FirstLessLast(), {}, by_hand=False)
    assert outcome.calls == 1
    # It takes what the hose holds for charge, and nobody reckons with the reaction: off, but not lost.
    assert outcome.error_kg == pytest.approx(outcome.dispensed_error_kg, abs=0.04)
    assert 0.0005 < abs(outcome.error_kg) < 0.04
    assert not outcome.covered
    assert outcome.hand_error_kg is None
    assert len(outcome.live) > 30


def test_a_weigher_that_shows_nothing_cannot_be_scored() -> None:
    with pytest.raises(SilentWeigherError, match="clean 5"):
        run_charge("clean", 5, 1e-3, FirstLessLast(speaks=False), {}, by_hand=False)
