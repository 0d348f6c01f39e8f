"""The life of a link as a table: every trouble from every phase, and what each error of bleak means."""

from __future__ import annotations

import pytest
from bleak.exc import BleakCharacteristicNotFoundError, BleakDBusError, BleakDeviceNotFoundError, BleakError
from hypothesis import given
from hypothesis import strategies as st

from fillmark_agent.bluetooth.life import NEXT, Life, LifeError, Phase, Plan, Trouble, trouble_of

LIVES = {Phase.LOST: Life(), Phase.FOUND: Life().found(), Phase.OPEN: Life().found().opened()}


@pytest.mark.parametrize("phase", Phase)
@pytest.mark.parametrize("trouble", Trouble)
def test_a_trouble_makes_its_plan_or_is_refused(phase: Phase, trouble: Trouble) -> None:
    life = LIVES[phase]
    assert life.phase is phase
    try:
        after = life.after(trouble)
    except LifeError:
        assert (phase, trouble) in {
            (Phase.LOST, Trouble.GONE), (Phase.LOST, Trouble.STALE), (Phase.LOST, Trouble.DROPPED),
            (Phase.LOST, Trouble.SILENT), (Phase.FOUND, Trouble.UNSEEN), (Phase.OPEN, Trouble.UNSEEN),
            (Phase.OPEN, Trouble.GONE), (Phase.OPEN, Trouble.BUSY), (Phase.OPEN, Trouble.STALE),
            (Phase.OPEN, Trouble.FAILED),
        }  # fmt: skip
    else:
        assert (after.phase, after.plan) == (Phase.LOST, NEXT[trouble])


def test_only_a_lost_link_is_found_and_only_a_found_one_opened() -> None:
    for phase, life in LIVES.items():
        if phase is not Phase.LOST:
            with pytest.raises(LifeError):
                life.found()
        if phase is not Phase.FOUND:
            with pytest.raises(LifeError):
                life.opened()


def test_every_second_time_unseen_left_over_links_are_released() -> None:
    life = Life()
    released = []
    for _ in range(5):
        life = life.after(Trouble.UNSEEN)
        released.append(life.plan.release)
    assert released == [False, True, False, True, False]
    assert life.found().unseen == 0


@given(st.lists(st.sampled_from(["found", "opened", *Trouble]), max_size=30))
def test_whatever_happens_the_next_plan_is_one_of_the_table(happenings: list[str | Trouble]) -> None:
    life = Life()
    for happening in happenings:
        before = life
        try:
            if isinstance(happening, Trouble):
                life = life.after(happening)
            else:
                life = life.found() if happening == "found" else life.opened()
        except LifeError:
            assert life == before
        assert life.plan in {*NEXT.values(), Plan(release=True)}


@pytest.mark.parametrize(
    ("error", "trouble"),
    [
        (BleakDeviceNotFoundError("F0"), Trouble.GONE),
        (BleakDBusError("org.freedesktop.DBus.Error.UnknownObject", []), Trouble.GONE),
        (BleakDBusError("org.bluez.Error.InProgress", []), Trouble.BUSY),
        (BleakDBusError("org.bluez.Error.NotReady", []), Trouble.BUSY),
        (BleakDBusError("org.bluez.Error.Failed", ["le-connection-abort-by-local"]), Trouble.FAILED),
        (BleakCharacteristicNotFoundError("2a9d"), Trouble.STALE),
        (KeyError("org.bluez.GattService1"), Trouble.STALE),
        (BleakError("device 'dev_F0_F1' not found"), Trouble.GONE),
        (BleakError("whatever"), Trouble.FAILED), (TimeoutError(), Trouble.FAILED), (EOFError(), Trouble.FAILED),
    ],
)  # fmt: skip
def test_what_an_error_means_for_the_next_attempt(error: BaseException, trouble: Trouble) -> None:
    assert trouble_of(error) is trouble
