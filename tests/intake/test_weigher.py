"""A replay under trial: what it shows is the newest job's, and one bad reading takes no other with it."""

from __future__ import annotations

import json

import pytest

from fillmark.engine.errors import ActionRefusedError
from fillmark.intake.weigher import ReplayWeigher
from fillmark.wire.senml import Record

BEGIN_S = 1_790_000_000.0
OPEN = {
    "type": "job.open", "aim": "min", "scale": {"resolution": "1 g", "class": "III"},
    "circuit": {"refrigerant": "R-134a", "charge_min": "330 g", "charge_max": "350 g", "volume": "2.4 L"},
}  # fmt: skip


def action(after_s: float, **fields: object) -> Record:
    return Record("bay-1/action", BEGIN_S + after_s, text=json.dumps(fields))


def mass(after_s: float, kg: float) -> Record:
    return Record("bay-1/scale/mass", BEGIN_S + after_s, unit="kg", value=kg)


def opened() -> ReplayWeigher:
    weigher = ReplayWeigher()
    weigher.take([action(0.0, **OPEN)], BEGIN_S)
    weigher.take([action(1.0, type="container.mount", container="C1", net="500 g", draw="vapour")], BEGIN_S + 1.0)
    for second in range(2, 20):
        weigher.take([mass(second, 1.0)], BEGIN_S + second)
    weigher.take([action(20.0, type="valve", valve="low", open=True)], BEGIN_S + 20.0)
    return weigher


def test_it_shows_what_was_drawn_and_calls_once() -> None:
    weigher = opened()
    for second in range(21, 121):
        weigher.take([mass(second, round(1.0 - 0.0034 * (second - 20), 3))], BEGIN_S + second)
    shown = weigher.weighed()
    assert shown is not None
    assert shown.at_s == BEGIN_S + 120.0
    # 3.4 g/s for 100 s; no hose is declared.
    assert shown.charged_kg == pytest.approx(0.340, abs=0.003)
    assert shown.dispensed_kg == pytest.approx(0.340, abs=0.003)
    (called_s,) = weigher.called_at_s()
    # At 3.4 g/s the minimum of 330 g is reached 97 s after the valve was opened.
    assert BEGIN_S + 110.0 < called_s < BEGIN_S + 117.1
    assert "window-reached" in weigher.active()


def test_a_reading_that_is_refused_takes_no_other_with_it() -> None:
    weigher = opened()
    weigher.take([mass(21.0, 0.999), mass(22.0, -400.0), mass(23.0, 0.998)], BEGIN_S + 23.0)
    shown = weigher.weighed()
    assert shown is not None
    assert shown.at_s == BEGIN_S + 23.0


def test_an_action_that_does_not_fit_is_not_swallowed() -> None:
    with pytest.raises(ActionRefusedError):
        opened().take([action(21.0, type="container.mount", container="C2", net="500 g")], BEGIN_S + 21.0)
